"""A flange as a parameter file, in mm."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from rootgap.spec import FlangePart

#: Digits after the point of a length, mm, and of a bulge or an angle.
LENGTH_DIGITS, TURN_DIGITS = 3, 6
#: A line of the file is no longer than this, characters, where an array can be broken.
_WIDE = 110


def part_text(part: FlangePart, comments: Sequence[str] = ()) -> str:
    """Return the TOML of `part`; `comments` stand above it. Read again it is that part, to a thousandth of a mm."""
    lines = [f"# {' '.join(comment.split())}" for comment in comments]
    lines += ["", *_head(part)] if lines else [*_head(part)]
    for port in part.port:
        lines += ["", "[[port]]", f"at      = {_point(port.at)}", *_opening(port.opening)]
        if port.angle:
            lines.append(f"angle   = {_figure(port.angle, TURN_DIGITS)}")
        lines += _given(port, "socket", "weld", "setback")
    for group in part.bolts:
        lines += ["", "[[bolts]]", *([] if group.fit else [f"hole   = {_figure(group.diameter)}"])]
        lines += [f"thread = {_text(group.thread)}"] if group.thread else []
        lines += _given(group, "fit", "slot")
        lines += _array("at    ", [_point(at) for at in group.at])
    lines += ["", "[outline]"]
    if hasattr(part.outline, "path"):
        lines += _array("path", [_corner(corner) for corner in part.outline.path])
    else:
        lines += _given(part.outline, "edge", "boss", "fillet", "bar", "split", "relief")
    return "\n".join(lines) + "\n"


def _given(table: Any, *words: str) -> list[str]:
    """Return a line for each of the keys `words` that a table states, lengths in mm."""
    values = table.model_dump(exclude_none=True, exclude_defaults=True)
    return [f"{word:<7} = {_value(values[word])}" for word in words if word in values]


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{word} = {_value(each)}' for word, each in value.items())} }}"
    return _text(value) if isinstance(value, str) else _figure(value)


def _head(part: FlangePart) -> Iterator[str]:
    yield f"name      = {_text(part.name)}"
    yield 'kind      = "flange"'
    for word in ("title", "note"):
        if getattr(part, word):
            yield f"{word:<9} = {_text(getattr(part, word))}"
    yield 'units     = "mm"'
    yield f"material  = {_text(part.material)}"
    yield f"thickness = {_figure(part.thickness)}"
    if part.fixed:
        yield f"fixed     = {part.fixed}"
    if part.held:
        yield f"held      = {_text(part.held)}"


def _opening(opening: Any) -> list[str]:
    if hasattr(opening, "path"):
        corners = [_corner(corner) for corner in opening.path]
        whole = f"opening = {{ path = [{', '.join(corners)}] }}"
        if len(whole) <= _WIDE:
            return [whole]
        # An inline table may not be broken; its own table may.
        return ["", "[port.opening]", *_array("path", corners)]
    parts = []
    for word, value in opening:
        shown = f"[{', '.join(map(_figure, value))}]" if isinstance(value, tuple) else _figure(value)
        parts.append(f"{word} = {shown}")
    return [f"opening = {{ {', '.join(parts)} }}"]


def _array(word: str, entries: Sequence[str]) -> list[str]:
    """Return an array as lines, as many entries on one as fit."""
    lines, line = [], ""
    for entry in entries:
        if line and len(line) + len(entry) + 6 > _WIDE:
            lines.append(line)
            line = ""
        line += f"{' ' if line else ''}{entry},"
    whole = f"{word} = [{line.rstrip(',')}]"
    if not lines and len(whole) <= _WIDE:
        return [whole]
    return [f"{word} = [", *(f"    {each}" for each in (*lines, line)), "]"]


def _point(at: Iterable[float]) -> str:
    return f"[{', '.join(map(_figure, at))}]"


def _corner(corner: tuple[float, float, float]) -> str:
    bulge = _figure(corner[2], TURN_DIGITS)
    return _point(corner[:2]) if bulge == "0" else f"[{_figure(corner[0])}, {_figure(corner[1])}, {bulge}]"


def _figure(value: float, digits: int = LENGTH_DIGITS) -> str:
    """Return a figure without a needless nought.

    >>> _figure(12.0), _figure(-0.0001), _figure(0.41421356, 6)
    ('12', '0', '0.414214')
    """
    return f"{round(value, digits) + 0.0:.{digits}f}".rstrip("0").rstrip(".")


def _text(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
