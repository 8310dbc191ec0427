"""What somebody would write by hand with CadQuery alone: the same bodies, then STEP, STL and GLB.

Run as a script: `python plain_script.py MANIFEST PARTS_JSON OUT`. It takes its figures from a
manifest, so that any assembly can be timed against it; flanges come as lists of (x, y, bulge).
"""

from __future__ import annotations

import json
import sys
from itertools import pairwise
from pathlib import Path

import cadquery as cq


def plane(frame: dict) -> cq.Plane:
    return cq.Plane(tuple(frame["origin"]), xDir=tuple(frame["ref"]), normal=tuple(frame["axis"]))


def ring(frame: dict, stock: dict) -> cq.Workplane:
    r_out = stock["od"] / 2
    return cq.Workplane(plane(frame)).circle(r_out).circle(r_out - stock["wall"])


def pipe(piece: dict, length: float) -> cq.Workplane:
    return ring(piece["start"], piece["stock"]).extrude(length)


def elbow(piece: dict) -> cq.Workplane:
    work = cq.Workplane(plane(piece["start"]).rotated((0, 0, piece["clock"])))
    r_out = piece["stock"]["od"] / 2
    work = work.circle(r_out).circle(r_out - piece["stock"]["wall"])
    return work.revolve(piece["angle"], (piece["radius"], 0), (piece["radius"], 1))


def cap(piece: dict) -> cq.Workplane:
    r_out = piece["stock"]["od"] / 2
    r_in, wall = r_out - piece["stock"]["wall"], piece["stock"]["wall"]
    depth, skirt = r_in / 2, piece["length"] - r_in / 2 - wall
    frame = piece["start"]
    upright = cq.Plane(tuple(frame["origin"]), xDir=tuple(frame["ref"]), normal=tuple(
        cq.Vector(*frame["ref"]).cross(cq.Vector(*frame["axis"])).toTuple()))
    return (
        cq.Workplane(upright)
        .moveTo(r_in, 0).lineTo(r_out, 0).lineTo(r_out, skirt)
        .ellipseArc(r_out, depth + wall, 0, 89.7, startAtCurrent=True, makeWire=False)
        .lineTo(0, skirt + depth + wall).lineTo(0, skirt + depth).lineTo(r_in * 0.005, skirt + depth)
        .ellipseArc(r_in, depth, 0, 89.7, sense=-1, startAtCurrent=True, makeWire=False)
        .close()
        .revolve(360, (0, 0), (0, 1))
    )


def plate(piece: dict, shapes: dict) -> cq.Workplane:
    frame = piece["start"]
    right = cq.Vector(*frame["ref"]).cross(cq.Vector(*frame["axis"]))
    work = cq.Workplane(cq.Plane(tuple(frame["origin"]), xDir=right.toTuple(), normal=tuple(frame["axis"])))
    body = outline(work, shapes["outer"]).extrude(piece["thickness"])
    for opening in shapes["inner"]:
        body = body.cut(outline(work, opening).extrude(piece["thickness"]))
    for x, y, radius in shapes["holes"]:
        body = body.cut(work.center(x, y).circle(radius).extrude(piece["thickness"]))
    return body


def outline(work: cq.Workplane, vertices: list) -> cq.Workplane:
    ring = [*vertices, vertices[0]]
    work = work.moveTo(*ring[0][:2])
    for (x0, y0, bulge), (x1, y1, _) in pairwise(ring):
        if bulge:
            middle = ((x0 + x1) / 2 + bulge * (y1 - y0) / 2, (y0 + y1) / 2 - bulge * (x1 - x0) / 2)
            work = work.threePointArc(middle, (x1, y1))
        else:
            work = work.lineTo(x1, y1)
    return work.close()


def solid_rod(frame: dict, radius: float, start: float, length: float) -> cq.Workplane:
    return cq.Workplane(plane(frame)).workplane(offset=start).circle(radius).extrude(length)


def bodies(manifest: dict, plates: dict) -> dict[str, cq.Workplane]:
    made: dict[str, cq.Workplane] = {}
    copes = [joint for joint in manifest["joints"] if joint["kind"] == "cope"]
    for piece in manifest["pieces"]:
        if piece["kind"] == "flange":
            made[piece["id"]] = plate(piece, plates[piece["id"]])
        elif piece["kind"] == "cap":
            made[piece["id"]] = cap(piece)
        elif piece["kind"] == "elbow":
            made[piece["id"]] = elbow(piece)
        else:
            body = pipe(piece, piece["length"])
            for cope in copes:
                if cope["branch"]["piece"] == piece["id"]:
                    log = solid_rod(cope["target"], cope["target"]["r_out"], -50, 2000)
                    body = pipe(piece, piece["length"] + cope["branch"]["r_out"]).cut(log)
                if cope["target"]["piece"] == piece["id"]:
                    reach = piece_length(manifest, cope["branch"]["piece"])
                    body = body.cut(solid_rod(cope["branch"], cope["branch"]["r_in"], 0, reach + 25))
            made[piece["id"]] = body
    return made


def piece_length(manifest: dict, name: str) -> float:
    return next(piece["length"] for piece in manifest["pieces"] if piece["id"] == name)


def main() -> None:
    manifest = json.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))
    plates = json.loads(Path(sys.argv[2]).read_text(encoding="utf-8"))
    out = Path(sys.argv[3])
    out.mkdir(parents=True, exist_ok=True)
    whole = cq.Assembly(name=manifest["name"])
    for name, body in bodies(manifest, plates).items():
        whole.add(body, name=name, color=cq.Color(0.6, 0.6, 0.6))
        cq.exporters.export(body, str(out / f"{name}.step"))
        body.val().exportStl(str(out / f"{name}.stl"), 0.05, 0.2, relative=False)
    whole.export(str(out / "assembly.step"))
    whole.export(str(out / "assembly.glb"), tolerance=0.05, angularTolerance=0.2)


if __name__ == "__main__":
    main()
