"""`python -m rootgap`."""

from rootgap.cli import main

main()
