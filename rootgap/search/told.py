"""A search as rows and lines of text, for a person to read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import isfinite
from typing import Any

from rootgap.checks.finding import listed
from rootgap.search.found import Change, Conflict, Found, Search
from rootgap.spec.toml import cut_short, toml_text

Row = tuple[str, ...]

#: So many runs whose placings failed, and changes beside the smallest, are told.
_FEW = 3


def found_rows(result: Search, chosen: int) -> list[Row]:
    """Return one row a layout of the front, the head first, a star at the number that is chosen."""
    head = ("", "margin mm", "nearest", "welds", "pipe mm", "turn deg", "warnings", *result.keys)
    return [head, *(_row(number, found, chosen) for number, found in enumerate(result.found, start=1))]


def _row(number: int, found: Found, chosen: int) -> Row:
    margin = f"{found.margin:.1f}" if isfinite(found.margin) else "no keep-outs"
    figures = (f"{found.welds}", f"{found.pipe:.0f}", f"{found.turn:.1f}", f"{found.warnings}")
    values = (value_text(value) for value in found.settings.values())
    return f"{number}{' *' if number == chosen else ''}", margin, found.nearest, *figures, *values


def value_text(value: Any) -> str:
    """Return a value of a parameter in a few signs."""
    if isinstance(value, float):
        return f"{value:g}"
    return cut_short(value) if isinstance(value, str) else toml_text(value)


def summary_lines(result: Search) -> list[str]:
    """Return what was gone through, and how fast."""
    whole = result.tried == result.combinations
    of = "" if whole else f" of {result.combinations}"
    how = ", coarse first and finer round the best" if result.coarse else ", all of them" if whole else ""
    rate = result.tried / max(result.seconds, 1e-9)
    judged = f"{result.tried}{of} combinations judged{how}, in {result.seconds:.1f} s ({rate:.0f} a second)"
    lines = [f"{judged}: {result.cleared} close, clear every keep-out and keep every limit."]
    if result.stopped:
        lines.insert(0, "Stopped: this is the best of what was judged so far.")
    if result.looked:
        held = f"of the front held against every check, in {result.held:.1f} s"
        lines.append(f"{_looked(result)} {held}, {len(result.found)} shown.")
    if not result.found:
        lines += [f"{unit}: {count} placings refused; the first: {first}" for unit, count, first in _refused(result)]
    return lines


def _looked(result: Search) -> str:
    failed = ", ".join(f"{check} {count}" for check, count in sorted(result.failed.items(), key=lambda each: -each[1]))
    return f"{result.looked} layouts{f' ({failed} failed)' if failed else ''}"


def _refused(result: Search) -> Iterator[tuple[str, int, str]]:
    for unit, (count, first) in sorted(result.refused.items(), key=lambda each: (-each[1][0], each[0]))[:_FEW]:
        yield unit, count, first


def rank_line(result: Search) -> str:
    """Return in what order the figures count."""
    margin = f"margin up to {result.goal.margin.enough:g} mm"
    words = [margin if word == "margin" else word for word in result.goal.order]
    return f"Best first by {', then '.join(words)}, then margin beyond that; * is chosen."


def why_lines(result: Search) -> list[str]:
    """Return why nothing is found, and what would change that; nothing where something is."""
    if result.found:
        return []
    if result.conflict is not None:
        return [*_conflict_lines(result.conflict, stopped=result.stopped)]
    if result.cleared and result.stopped:
        looked = f"{result.looked} were held against every check"
        return [f"Nothing fits so far: of {result.cleared} that clear every keep-out {looked}."]
    if result.cleared:
        return ["Nothing fits: what clears every keep-out fails other checks. Widen a range, or mend what fails first."]
    if result.missed is not None:
        where, short = settings_text(result.missed.settings), _missed(result.missed.short)
        return [f"Nothing fits so far; of what was judged {where} misses least: {short}."]
    return ["Nothing fits so far." if result.stopped else "Nothing fits: no combination closes."]


def _missed(short: Mapping[str, tuple[float, str]]) -> str:
    return ", ".join(f"{what} by {by:.1f} {unit}" for what, (by, unit) in short.items())


def _conflict_lines(conflict: Conflict, *, stopped: bool) -> Iterator[str]:
    between = conflict.between
    if len(between) == 1:
        yield f"Nothing fits: {between[0]} alone leaves no layout."
    else:
        yield (
            f"Nothing fits: {listed(between)} together leave no layout; without any one of them there is one that "
            "clears the rest of these."
        )
    for number, change in enumerate(conflict.changes[: 1 + _FEW]):
        yield f"{'The smallest change' if number == 0 else 'Or'}: {_change(change)}"
    if not conflict.changes and stopped:
        yield "What would let one fit was not looked for to the end."
    elif not conflict.changes:
        yield f"No single change is enough: the layout that misses least misses {_missed(conflict.short)}."


def _change(change: Change) -> str:
    ways = []
    if change.what.startswith("goal."):
        ways.append(f"let {change.what}.most be {change.to:g} {change.unit} ({change.by:.1f} more)")
    elif change.to is not None:
        ways.append(f"give {change.what} a clearance of {change.to:.1f} mm ({change.by:.1f} mm less)")
    if change.move is not None:
        ways.append(f"move {change.what} by [{', '.join(f'{part + 0.0:.1f}' for part in change.move)}] mm")
    return f"{', or '.join(ways)}; then {settings_text(change.settings)} fits."


def settings_text(settings: Any) -> str:
    """Return the value of each parameter in one line."""
    return ", ".join(f"{name} = {value_text(value)}" for name, value in settings.items())


def figures_text(found: Found) -> str:
    """Return a layout's figures in one line."""
    margin = f"margin {found.margin:.1f} mm at keepout.{found.nearest}, " if isfinite(found.margin) else ""
    return f"{margin}{found.welds} welds, {found.pipe:.0f} mm of pipe, gas turns {found.turn:.1f} degrees"


def record(result: Search, chosen: int) -> dict[str, Any]:
    """Return a search as a record, lengths in mm, angles in degrees."""
    conflict = result.conflict
    return {
        "combinations": result.combinations,
        "tried": result.tried,
        "clear": result.cleared,
        "seconds": round(result.seconds, 3),
        "stopped": result.stopped,
        "chosen": chosen if result.found else None,
        "found": [
            {
                "margin": round(each.margin, 3),
                "nearest": each.nearest,
                "welds": each.welds,
                "pipe": round(each.pipe, 3),
                "turn": round(each.turn, 3),
                "warnings": each.warnings,
                "settings": dict(each.settings),
            }
            for each in result.found
        ],
        "missed": None
        if result.missed is None
        else {
            "settings": dict(result.missed.settings),
            "short": {what: by for what, (by, _) in result.missed.short.items()},
        },
        "conflict": None
        if conflict is None
        else {
            "between": list(conflict.between),
            "changes": [
                {
                    "what": each.what,
                    "by": each.by,
                    "unit": each.unit,
                    "to": each.to,
                    "move": each.move,
                    "settings": dict(each.settings),
                }
                for each in conflict.changes
            ],
            "short": {what: by for what, (by, _) in conflict.short.items()},
        },
    }
