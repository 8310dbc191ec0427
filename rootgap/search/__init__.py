"""Searching for a layout that fits: which values of a file clear every keep-out, and which of those are best."""

from rootgap.search.found import Change, Conflict, Found, Search

#: Layouts of the trade-off that are shown.
SHOWN = 8

__all__ = ["SHOWN", "Change", "Conflict", "Found", "Search"]
