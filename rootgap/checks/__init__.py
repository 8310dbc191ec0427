"""One module a question. Each gives findings; none stops the work."""

from rootgap.checks.all import all_checks
from rootgap.checks.finding import Finding
from rootgap.checks.gas import Gas, gas_of

__all__ = ["Finding", "Gas", "all_checks", "gas_of"]
