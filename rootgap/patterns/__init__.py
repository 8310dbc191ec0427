"""Flat things: wraps, holes and flanges as lines and arcs. Never imports the solid kernel."""

from rootgap.patterns.all import all_patterns
from rootgap.patterns.pattern import Drawn, Label, Pattern, purpose

__all__ = ["Drawn", "Label", "Pattern", "all_patterns", "purpose"]
