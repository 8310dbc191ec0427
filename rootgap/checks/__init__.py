"""One module a question. Each gives findings; none stops the work."""

from rootgap.checks.all import all_checks, checks_to_pass, space_checks
from rootgap.checks.apart import NEAR, Neighbours, neighbours
from rootgap.checks.clearance import Clearance, Space, space_round
from rootgap.checks.finding import Finding
from rootgap.checks.gas import Gas, gas_of

__all__ = [
    "NEAR",
    "Clearance",
    "Finding",
    "Gas",
    "Neighbours",
    "Space",
    "all_checks",
    "checks_to_pass",
    "gas_of",
    "neighbours",
    "space_checks",
    "space_round",
]
