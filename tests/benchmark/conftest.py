"""Benchmarks print a table; none passes or fails on time."""

from __future__ import annotations

from collections.abc import Callable

import pytest

_ROWS: list[tuple[str, str, str]] = []


@pytest.fixture
def row() -> Callable[[str, str, str], None]:
    """Add a row to the table: what, measured, aim."""
    return lambda what, measured, aim: _ROWS.append((what, measured, aim))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    if not _ROWS:
        return
    terminalreporter.section("benchmark")
    for what, measured, aim in [("what", "measured", "aim"), *_ROWS]:
        terminalreporter.write_line(f"{what:<58} {measured:>14}   {aim}")
