"""A flange from a DXF outline that somebody drew, whatever it was drawn with.

Terminology
    entity     a line, arc, circle, polyline, spline or ellipse of the file, blocks taken apart
    loop       entities whose ends meet; ends nearer than the tolerance are joined
    edge       the loop that all others lie in
    hole       a circle no larger than a bolt hole may be; all other loops are ports
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path as File
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from rootgap.errors import InputError, InputErrors
from rootgap.geometry.arcs import smoothed
from rootgap.geometry.healing import Healed, Line, healed
from rootgap.geometry.loops import anticlockwise, fault_of
from rootgap.geometry.paths import Path, Point
from rootgap.geometry.polygons import inside
from rootgap.plates.shapes import Shape, recognised
from rootgap.spec import FlangePart
from rootgap.spec.fields import LONGEST_ON_PLATE
from rootgap.spec.source import refused, shown
from rootgap.spec.toml import dotted, printable

Array = NDArray[np.float64]

#: Units of a drawing, mm, by their code in its header. Source: DXF reference, $INSUNITS.
CODES = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 14: "dm"}
SIZES = {"mm": 1.0, "in": 25.4, "cm": 10.0, "dm": 100.0, "m": 1000.0, "ft": 304.8}
#: What a flange measures across, and its smallest hole, mm, at least and at most (common practice, no source).
LEAST_FLANGE, MOST_FLANGE = 40.0, LONGEST_ON_PLATE
LEAST_HOLE, MOST_HOLE = 3.0, 120.0
#: A circle larger than this, mm, is a port and no bolt hole (common practice, no source: an M16 goes through it).
LARGEST_BOLT_HOLE = 20.0
#: No outline has more lines, and no file of one more bytes.
MOST_LINES = 20_000
LARGEST_DRAWING = 50_000_000
#: A loop of more lines than this is drawn anew with as few arcs as keep to half the tolerance.
MANY = 60
#: Ends further apart than this, mm, are not joined: shapes that near would be taken for each other.
MOST_TOLERANCE = 5.0
#: What a whole file ends with, and in how many of its last bytes. Source: DXF reference, end of file.
END_MARK, TAIL = b"EOF", 64
#: Splines and ellipses are followed to this share of the drawing's size.
FINE = 1e-5
#: What stands beside an outline and is none.
_WORDS = ("TEXT", "MTEXT", "DIMENSION", "LEADER", "MULTILEADER", "HATCH", "POINT", "ATTDEF", "IMAGE", "VIEWPORT")
#: Layers of our own drawings that are cut or drilled.
_OURS = ("cut", "drill")


@dataclass(frozen=True)
class Imported:
    """A flange, and what had to be done, seen or guessed to have it, one line each."""

    part: FlangePart
    told: tuple[str, ...]


@dataclass(frozen=True)
class _Drawing:
    """What a file holds, in its own units."""

    lines: tuple[Line, ...]
    circles: tuple[tuple[Point, float], ...]
    code: int
    told: tuple[str, ...]

    @property
    def size(self) -> float:
        """Its larger measure, in its own units."""
        points = [end for line in self.lines for end in line[:2]]
        points += [(x + k * r, y + k * r) for (x, y), r in self.circles for k in (-1.0, 1.0)]
        return float(np.ptp(np.array(points), axis=0).max()) if points else 0.0


def imported(
    path: File | str,
    *,
    name: str,
    thickness: float,
    material: str,
    tolerance: float = 0.1,
    units: str = "",
    layers: Sequence[str] = (),
    largest_bolt: float = LARGEST_BOLT_HOLE,
) -> Imported:
    """Return the flange that the DXF file at `path` draws.

    thickness, tolerance (ends nearer than that are joined, shapes that near are taken for what they are),
    largest_bolt: mm; units: "" to go by the file and by its size; layers: only these, none for all.

    Raises InputErrors where the file cannot be read, holds nothing, or no flange.
    """
    file = File(path)
    drawing = _read(file, layers)
    told = list(drawing.told)
    scale, said = _scale(file, drawing, units)
    told += said
    lines = [((a[0] * scale, a[1] * scale), (b[0] * scale, b[1] * scale), bulge) for a, b, bulge in drawing.lines]
    found = healed(lines, tolerance)
    told += _healing(found)
    loops = [_smooth(loop, tolerance) for loop in found.loops]
    for loop in loops:
        fault = fault_of(loop)
        if fault:
            raise _refusal(file, f"a closed outline {fault} mm; draw its rim once round")
    loops += [_circle(_scaled(at, scale), radius * scale) for at, radius in _single(drawing.circles, told)]
    if not loops or _edge_is_open(found, loops):
        raise _refusal(file, _open(found))
    edge, inner, deeper = _nested(file, loops)
    for loop, around in deeper:
        hole, port = recognised(loop, tolerance), recognised(around, tolerance)
        if _is_bolt(hole, largest_bolt) and not _is_bolt(port, largest_bolt):
            raise _refusal(file, _in_a_port(hole, port))
    if deeper:
        told.append(f"{_count(len(deeper), 'loop')} inside another opening left out.")
    shift, moved = _datum(edge)
    told += moved
    shapes = [recognised(loop.moved(*shift), tolerance) for loop in inner]
    bolts = [shape for shape in shapes if _is_bolt(shape, largest_bolt)]
    ports = [shape for shape in shapes if shape not in bolts]
    if not ports:
        raise _refusal(
            file,
            f"{_count(len(bolts), 'bolt hole')} and no port: no closed loop but circles up to {largest_bolt:g} mm "
            f"inside the edge{_open_too(found)}",
        )
    told += [_telling(number, port) for number, port in enumerate(ports, start=1)]
    told.append(f"{_count(len(bolts), 'bolt hole')}: {_sizes(bolts)}." if bolts else "No bolt holes.")
    values = _values(edge.moved(*shift), ports, bolts) | {
        "name": name,
        "thickness": thickness,
        "material": material,
        "kind": "flange",
        "units": "mm",
    }
    return Imported(_checked(file, values), tuple(told))


# Reading


def _read(file: File, layers: Sequence[str]) -> _Drawing:
    """Return the lines and circles of a DXF file. Raises InputErrors."""
    from ezdxf import bbox
    from ezdxf.disassemble import recursive_decompose

    document = _document(file)
    ours = "cut.outer" in document.layers
    off = {layer.dxf.name.casefold() for layer in document.layers if layer.is_off() or layer.is_frozen()}
    wanted = {layer.casefold() for layer in layers}
    missing = sorted(layer for layer in layers if layer not in document.layers)
    if missing:
        have = ", ".join(sorted(printable(layer.dxf.name) for layer in document.layers)[:12])
        raise _refusal(file, f"has no layer {printable(missing[0])}; it has {have}")
    entities = []
    for entity in recursive_decompose(document.modelspace()):
        layer = entity.dxf.layer.casefold()
        by_itself = layer not in off and (not ours or layer.partition(".")[0] in _OURS)
        taken = layer in wanted if wanted else by_itself
        if taken and entity.dxftype() not in _WORDS:
            entities.append(entity)
    box = bbox.extents(entities, fast=True) if entities else None
    size = max(box.size.x, box.size.y) if box is not None and box.has_data else 1.0
    lines: list[Line] = []
    circles: list[tuple[Point, float]] = []
    others: dict[str, int] = {}
    for entity in entities:
        if not _taken(entity, FINE * size, lines, circles):
            others[entity.dxftype()] = others.get(entity.dxftype(), 0) + 1
        if len(lines) + len(circles) > MOST_LINES:
            raise _refusal(file, f"more than {MOST_LINES} lines; allowed: the outline of one flange")
    if not lines and not circles:
        only = f" but {', '.join(f'{count} {kind}' for kind, count in others.items())}" if others else ""
        allowed = "allowed: lines, arcs, circles, polylines, splines, ellipses"
        raise _refusal(file, f"nothing is drawn in it{only}; {allowed}")
    told = [f"{count} {kind} left out: no line." for kind, count in others.items()]
    return _Drawing(tuple(lines), tuple(circles), int(document.header.get("$INSUNITS", 0)), tuple(told))


def _document(file: File) -> Any:
    """Return the drawing in a file. Raises InputErrors where there is none."""
    from ezdxf import recover
    from ezdxf.lldxf.const import DXFError

    if file.is_dir():
        raise refused(file, "a folder", "allowed: a DXF file")
    try:
        size, whole = file.stat().st_size, True
        if size <= LARGEST_DRAWING:
            whole = END_MARK in file.read_bytes()[-TAIL:]
            document = recover.readfile(file)[0]
    except FileNotFoundError:
        raise refused(file, "", "no such file") from None
    except (DXFError, UnicodeDecodeError, ValueError, IndexError, KeyError):
        raise refused(file, "", "cannot be read: allowed: a DXF file") from None
    except OSError as fault:
        raise refused(file, "", f"cannot be read: {(fault.strerror or str(fault)).lower()}") from None
    if size > LARGEST_DRAWING:
        raise refused(file, f"{size} bytes", f"allowed: up to {LARGEST_DRAWING}: the outline of one flange")
    if not whole:
        raise refused(file, "", "is cut short: its end mark is missing; copy it again, or save it again as DXF")
    return document


def _taken(entity: Any, fine: float, lines: list[Line], circles: list[tuple[Point, float]]) -> bool:
    """Add what an entity draws to `lines` and `circles`; tell whether it draws any."""
    kind = entity.dxftype()
    if kind == "LINE":
        lines.append((_flat(entity.dxf.start), _flat(entity.dxf.end), 0.0))
    elif kind == "CIRCLE":
        circles.append((_flat(entity.ocs().to_wcs(entity.dxf.center)), abs(float(entity.dxf.radius))))
    elif kind == "ARC":
        sweep = (entity.dxf.end_angle - entity.dxf.start_angle) % 360.0
        if sweep < 1e-9 or sweep > 360.0 - 1e-9:
            circles.append((_flat(entity.ocs().to_wcs(entity.dxf.center)), abs(float(entity.dxf.radius))))
        else:
            # An arc seen from behind runs clockwise.
            way = 1.0 if entity.dxf.extrusion.z >= 0.0 else -1.0
            bulge = way * math.tan(math.radians(sweep) / 4.0)
            lines.append((_flat(entity.start_point), _flat(entity.end_point), bulge))
    elif kind in ("LWPOLYLINE", "POLYLINE"):
        for part in entity.virtual_entities():
            _taken(part, fine, lines, circles)
    elif kind in ("SPLINE", "ELLIPSE"):
        points = np.array([_flat(point) for point in entity.flattening(fine)])
        if len(points) > 1:
            lines += list(smoothed(points, 4.0 * fine).segments())
    else:
        return False
    return True


def _flat(point: Any) -> Point:
    return float(point[0]), float(point[1])


# Units


def _scale(file: File, drawing: _Drawing, units: str) -> tuple[float, list[str]]:
    """Return what one unit of a drawing measures, mm, and what there is to say of it. Raises InputErrors where
    nothing fits, or more than one unit."""
    said = CODES.get(drawing.code, "")
    if units:
        other = f" (the file says {said})" if said and said != units else ""
        return SIZES[units], [f"Units: {units}, as told{other}."]
    if said and _fits(drawing, SIZES[said]):
        return SIZES[said], [f"Units: {said}, as the file says."]
    wide = drawing.size
    usual = [unit for unit in ("mm", "in") if _fits(drawing, SIZES[unit])]
    fit = usual or [unit for unit in SIZES if _fits(drawing, SIZES[unit])]
    claim = "the file names none"
    if said:
        claim = f"the file says {said}, which would make it {wide * SIZES[said]:.4g} mm wide"
    if len(fit) == 1:
        return SIZES[fit[0]], [f"Units: {fit[0]}, by its size ({wide * SIZES[fit[0]]:.1f} mm wide); {claim}."]
    none = f"no unit makes {wide:.4g} a flange of {LEAST_FLANGE:g} to {MOST_FLANGE:g} mm"
    what = f"could be {' or '.join(fit)}" if fit else none
    raise _refusal(file, f"units: {claim}; {what}: state --units")


def _fits(drawing: _Drawing, scale: float) -> bool:
    """Tell whether a drawing in units of `scale` mm is the size of a flange, and its smallest circle that of a hole."""
    least = min((2.0 * radius for _, radius in drawing.circles), default=10.0 / scale)
    return LEAST_FLANGE <= drawing.size * scale <= MOST_FLANGE and LEAST_HOLE <= least * scale <= MOST_HOLE


# Loops


def _healing(found: Healed) -> Iterator[str]:
    if found.points:
        yield f"{_count(found.points, 'line')} of no length dropped."
    if found.doubles:
        yield f"{_count(found.doubles, 'line')} drawn twice dropped."
    if found.gaps:
        yield f"{_count(len(found.gaps), 'gap')} joined, the widest {max(found.gaps):.3f} mm."
    for chain, wide in zip(found.strays, found.openings, strict=True):
        (x0, y0), (x1, y1) = chain[0][0], chain[-1][1]
        yield (
            f"Left out: an open chain of {_count(len(chain), 'line')} from ({x0:.2f}, {y0:.2f}) to "
            f"({x1:.2f}, {y1:.2f}), ends {wide:.3f} mm apart."
        )


def _edge_is_open(found: Healed, loops: Sequence[Path]) -> bool:
    """Tell whether open chains reach round the largest loop on all sides: they are the edge, and it a port."""
    if not found.strays:
        return False
    ends = np.array([end for chain in found.strays for line in chain for end in line[:2]])
    low_x, low_y, high_x, high_y = max(loops, key=lambda loop: abs(loop.area)).bounds()
    (left, low), (right, high) = ends.min(axis=0), ends.max(axis=0)
    return bool(left < low_x and low < low_y and right > high_x and high > high_y)


def _open(found: Healed) -> str:
    """Return why there is no closed edge: where the ends of its longest chain come to no other end."""
    if not found.strays:
        return "nothing closed is drawn in it"
    spans = [sum(math.dist(*line[:2]) for line in chain) for chain in found.strays]
    longest = max(range(len(spans)), key=lambda k: (len(found.strays[k]) > 1, spans[k]))
    ends = [(chain[0][0], chain[-1][1]) for chain in found.strays]
    others = [end for k, each in enumerate(ends) if k != longest for end in each]
    start, stop = ends[longest]
    gaps = [(math.dist(start, stop), start, stop)]
    if others:
        # Of two chains or more that make one edge, the wider of the gaps to the nearest ends has to be joined.
        nearest = [min((math.dist(end, other), end, other) for other in others) for end in (start, stop)]
        gaps.append(max(nearest))
    wide, (x0, y0), (x1, y1) = min(gaps)
    cure = f", or join wider gaps with --tolerance {math.ceil(100.0 * wide + 1e-6) / 100.0:g}"
    return (
        f"no closed outline: its longest chain is open by {wide:.3f} mm, from ({x0:.2f}, {y0:.2f}) to ({x1:.2f}, "
        f"{y1:.2f}); close it{cure if wide < MOST_TOLERANCE - 0.01 else ' in the drawing'}"
    )


def _open_too(found: Healed) -> str:
    if not found.strays:
        return ""
    return f"; {_count(len(found.strays), 'open chain')}, the nearest to closed by {min(found.openings):.3f} mm"


def _single(circles: Sequence[tuple[Point, float]], told: list[str]) -> list[tuple[Point, float]]:
    """Return circles without those drawn twice."""
    kept: list[tuple[Point, float]] = []
    for at, radius in circles:
        if not any(math.dist(at, other) < 1e-3 * radius and abs(radius - size) < 1e-3 * radius for other, size in kept):
            kept.append((at, radius))
    if len(kept) < len(circles):
        told.append(f"{_count(len(circles) - len(kept), 'circle')} drawn twice dropped.")
    return kept


def _circle(at: Point, radius: float) -> Path:
    return Path(((at[0] + radius, at[1], 1.0), (at[0] - radius, at[1], 1.0)), closed=True)


def _scaled(at: Point, scale: float) -> Point:
    return at[0] * scale, at[1] * scale


def _smooth(loop: Path, tolerance: float) -> Path:
    """Return a loop of many lines as one of few arcs, from its sharpest corner round, within half the tolerance."""
    if len(loop.vertices) <= MANY:
        return anticlockwise(loop)
    points = anticlockwise(loop).points(0.1 * tolerance)
    along = np.diff(np.vstack([points[-1:], points, points[:1]]), axis=0)
    way = np.arctan2(along[:, 1], along[:, 0])
    bend = np.abs((np.diff(way) + np.pi) % (2.0 * np.pi) - np.pi)
    points = np.roll(points, -int(np.argmax(bend)), axis=0)
    # Chords no longer than the arcs need, so that a long straight is not taken for one.
    found = smoothed(np.vstack([points, points[:1]]), 0.4 * tolerance)
    made = Path(found.vertices[:-1], closed=True)
    return made if len(made.vertices) < len(loop.vertices) and not fault_of(made) else anticlockwise(loop)


def _is_bolt(shape: Shape, largest_bolt: float) -> bool:
    return shape.kind == "round" and bool(shape.opening["round"] <= largest_bolt)


def _in_a_port(hole: Shape, port: Shape) -> str:
    """Return why a bolt hole that lies in a port is refused."""
    (x, y), (port_x, port_y) = hole.at, port.at
    return (
        f"a bolt hole of {hole.opening['round']:g} mm at ({x:.1f}, {y:.1f}) lies in the port at ({port_x:.1f}, "
        f"{port_y:.1f}); allowed: metal round it; move it, or take it out of the drawing, or read other layers with "
        "--layer"
    )


def _nested(file: File, loops: Sequence[Path]) -> tuple[Path, list[Path], list[tuple[Path, Path]]]:
    """Return the edge, the loops in it, and those that lie in one of these, each with that. Raises InputErrors where
    one lies beside the edge."""
    by_size = sorted(loops, key=lambda loop: -abs(loop.area))
    rims = [loop.points(0.05) for loop in by_size]
    within = [[k for k in range(n) if inside(rims[n][:1], rims[k])[0]] for n in range(len(rims))]
    # One that only reaches over the edge is in it: the flange says so.
    over = [n for n in range(1, len(rims)) if 0 not in within[n] and inside(rims[n], rims[0]).any()]
    for n in over:
        within[n] = [0]
    beside = [n for n in range(1, len(rims)) if 0 not in within[n]]
    if beside:
        low_x, low_y, high_x, high_y = by_size[beside[0]].bounds()
        raise _refusal(
            file,
            f"{_count(len(beside), 'outline')} beside the largest, the first {high_x - low_x:.1f} x "
            f"{high_y - low_y:.1f} mm at ({0.5 * (low_x + high_x):.1f}, {0.5 * (low_y + high_y):.1f}); "
            "allowed: one flange a file, or name "
            "its layer with --layer",
        )
    inner = [n for n in range(1, len(rims)) if within[n] == [0]]
    deeper = [(by_size[n], by_size[within[n][1]]) for n in range(1, len(rims)) if len(within[n]) > 1]
    inner.sort(key=lambda n: tuple(np.round(rims[n].mean(axis=0), 3)))
    return by_size[0], [by_size[n] for n in inner], deeper


def _datum(edge: Path) -> tuple[Point, list[str]]:
    """Return how far to move a drawing, mm, for its figures to stand in a parameter file, and what to say of it."""
    low_x, low_y, high_x, high_y = edge.bounds()
    if max(map(abs, (low_x, low_y, high_x, high_y))) <= 0.9 * LONGEST_ON_PLATE:
        return (0.0, 0.0), []
    shift = (-round(0.5 * (low_x + high_x), 3), -round(0.5 * (low_y + high_y), 3))
    return shift, [f"Moved by ({shift[0]:.3f}, {shift[1]:.3f}) mm: its own origin lies far from it."]


# The flange


def _values(edge: Path, ports: Sequence[Shape], bolts: Sequence[Shape]) -> dict[str, Any]:
    sizes = sorted({bolt.opening["round"] for bolt in bolts})
    groups: list[list[float]] = []
    for size in sizes:
        if groups and size - groups[-1][0] <= 0.02:
            groups[-1].append(size)
        else:
            groups.append([size])
    return {
        "port": [{"at": port.at, "opening": port.opening, "angle": port.angle} for port in ports],
        "bolts": [
            {
                "hole": round(sum(group) / len(group), 3),
                "at": [bolt.at for bolt in bolts if bolt.opening["round"] in group],
            }
            for group in groups
        ],
        "outline": {"path": [[round(x, 3), round(y, 3), round(bulge, 6)] for x, y, bulge in edge.vertices]},
    }


def _checked(file: File, values: dict[str, Any]) -> FlangePart:
    """Return the flange of `values`. Raises InputErrors for every fault in them."""
    try:
        return FlangePart.model_validate(values)
    except ValidationError as error:
        faults = []
        for each in error.errors(include_url=False):
            inner = each.get("ctx", {}).get("error")
            key = (*(part for part in each["loc"] if not str(part).startswith("<")), *getattr(inner, "key", ()))
            said = getattr(inner, "said", str(inner or each["msg"]))
            if each["type"] == "too_long":
                count, most = each["ctx"]["actual_length"], each["ctx"]["max_length"]
                said = f"{count} corners; allowed: at most {most}; a larger --tolerance leaves fewer"
            faults.append(InputError(shown(file), None, dotted(key), "", said))
        raise InputErrors(tuple(faults)) from None


def _telling(number: int, port: Shape) -> str:
    x, y = port.at
    if port.kind == "path":
        corners = _count(len(port.opening["path"]), "corner")
        return f"Port {number} at ({x:g}, {y:g}): a path of {corners}; no plain shape is that near."
    sizes = port.opening[port.kind]
    told = " x ".join(f"{size:g}" for size in sizes) if isinstance(sizes, list) else f"{sizes:g}"
    radius = f", radius {port.opening['radius']:g}" if "radius" in port.opening else ""
    turn = f", turned {port.angle:g} deg" if port.angle else ""
    return f"Port {number} at ({x:g}, {y:g}): {port.kind} {told}{radius}{turn}, within {port.off:.3f} mm."


def _sizes(bolts: Sequence[Shape]) -> str:
    return ", ".join(f"{size:g} mm" for size in sorted({bolt.opening["round"] for bolt in bolts}))


def _count(number: int, one: str) -> str:
    return f"{number} {one}{'' if number == 1 else 's'}"


def _refusal(file: File, said: str) -> InputErrors:
    return refused(file, "", said)
