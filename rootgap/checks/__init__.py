"""One module a question. Each gives findings; none stops the work."""

from rootgap.checks.all import all_checks
from rootgap.checks.finding import Finding

__all__ = ["Finding", "all_checks"]
