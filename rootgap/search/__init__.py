"""Searching for a layout that fits: which values of a file clear every keep-out, and which of those are best."""

from rootgap.search.found import Change, Conflict, Found, Search
from rootgap.search.seek import SHOWN, search

__all__ = ["SHOWN", "Change", "Conflict", "Found", "Search", "search"]
