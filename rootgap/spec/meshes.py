"""Bodies in files of their own: STL files read, placed, and refused where they cannot be what was meant."""

from __future__ import annotations

import re
import stat
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.frames import turned
from rootgap.geometry.mesh import Mesh
from rootgap.kept import Kept, fingerprint
from rootgap.spec.keepouts import MESH_UNITS, StepShape, StlShape

Array = NDArray[np.float64]
#: Reads a STEP file: its path and a tolerance, mm, to loose triangles, (m, 3, 3), mm. Raises ValueError.
StepReader = Callable[[Path, float], Array]

#: Nothing beside a hot side is larger than this, mm, and nothing smaller needs a mesh (common practice, no source).
LARGEST, SMALLEST = 10_000.0, 10.0
#: Sizes, mm, that a body beside a hot side, or a scan of an engine bay, usually has.
USUAL = (60.0, 4000.0)
#: More triangles than this are no scan that was made ready.
MOST_TRIANGLES = 12_000_000
#: A binary STL file: its head and count, bytes, and a triangle.
_HEAD = 84
_TRIANGLE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
#: Units as they are told, the likeliest first.
_CALLED = {"mm": "millimetres", "in": "inches", "m": "metres", "cm": "centimetres"}
_VERTEX = re.compile(rb"\bvertex\s+(\S+)\s+(\S+)\s+(\S+)")

#: Meshes are read in seconds, and the same ones again and again.
MESHES: Kept[Mesh] = Kept(8)


def mesh_from(path: Path, shape: StlShape | StepShape, step: StepReader | None) -> Mesh:
    """Return the mesh in the file at `path`, placed as `shape` says; step: reads STEP files.

    Raises ValueError with what is wrong with it.
    """
    state = path.stat()
    if not stat.S_ISREG(state.st_mode):
        raise ValueError("this is a device or a pipe; allowed: a file")
    key = fingerprint(str(path.resolve()), state.st_mtime_ns, state.st_size, shape)
    return MESHES.get(key, lambda: _mesh_from(path, shape, step))


def _mesh_from(path: Path, shape: StlShape | StepShape, step: StepReader | None) -> Mesh:
    if isinstance(shape, StlShape):
        triangles, units = stl_triangles(path.read_bytes()), shape.units
        refuse_size(triangles, units)
    elif step is None:
        raise ValueError("a STEP file is read by rootgap.load and the command alone")
    else:
        triangles, units = step(path, shape.tolerance), "mm"
    placed = triangles @ (MESH_UNITS[units] * turned(shape.turn)) + np.array(shape.at)
    return Mesh.welded(placed)


def stl_triangles(data: bytes) -> Array:
    """Return the triangles, (m, 3, 3), in the file's own unit, of an STL file's bytes, binary or text.

    Raises ValueError with what is wrong with it.
    """
    if not data:
        raise ValueError("the file is empty; export it again")
    count = int.from_bytes(data[80:_HEAD], "little") if len(data) >= _HEAD else 0
    text = data.lstrip()[:5].lower() == b"solid" and len(data) != _HEAD + _TRIANGLE.itemsize * count
    triangles = _text_triangles(data) if text else _binary_triangles(data, count)
    if not len(triangles):
        raise ValueError("the file holds no triangle; export it again")
    if len(triangles) > MOST_TRIANGLES:
        raise ValueError(f"{len(triangles)} triangles; allowed: {MOST_TRIANGLES}; thin it out where it was scanned")
    if not np.isfinite(triangles).all():
        raise ValueError("some of its numbers are not finite; export it again")
    return triangles


def _text_triangles(data: bytes) -> Array:
    """Return the triangles, (m, 3, 3), of a text file. Raises ValueError."""
    found = _VERTEX.findall(data)
    if b"endsolid" not in data[-4096:].lower() or len(found) % 3:
        raise ValueError(f"the file is cut short in triangle {len(found) // 3 + 1}; copy or export it again")
    try:
        return np.array(found, dtype="S32").astype(np.float64).reshape(-1, 3, 3)
    except ValueError:
        raise ValueError("a vertex without three numbers; export it again") from None


def _binary_triangles(data: bytes, count: int) -> Array:
    """Return the `count` triangles, (m, 3, 3), of a binary file. Raises ValueError."""
    have = max(len(data) - _HEAD, 0) // _TRIANGLE.itemsize
    if len(data) < _HEAD:
        raise ValueError(f"the file is cut short, or no STL file: {len(data)} bytes")
    if have < count:
        raise ValueError(f"the file is cut short, or no STL file: it has {have} of {count} triangles; copy it again")
    return np.frombuffer(data, _TRIANGLE, count, _HEAD)["corners"].astype(np.float64)


def refuse_size(triangles: Array, units: str) -> None:
    """Raise ValueError where triangles, (m, 3, 3), cannot be in `units`, with the unit that would make sense."""
    raw = float(np.ptp(triangles.reshape(-1, 3), axis=0).max())
    across = raw * MESH_UNITS[units]
    if SMALLEST <= across <= LARGEST:
        return
    remedy = likelier(raw, units)
    remedy = f"; {remedy}" if remedy else ""
    raise ValueError(f"{across:.5g} mm across; allowed: {SMALLEST:g} mm to {LARGEST / 1000:g} m{remedy}")


def likelier(raw: float, units: str) -> str:
    """Return what a mesh `raw` across, in its own unit, would be in another unit than `units` that makes sense, mm;
    "" where none does."""
    words = [word for word, scale in MESH_UNITS.items() if word != units and USUAL[0] <= raw * scale <= USUAL[1]]
    # Inches and metres are what people draw in beside millimetres.
    words.sort(key=tuple(_CALLED).index)
    if not words:
        return ""
    return f'in {_CALLED[words[0]]} it would be {raw * MESH_UNITS[words[0]]:.0f} mm: units = "{words[0]}"'
