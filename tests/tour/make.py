"""Make the pictures of the README from a real build: `python tests/tour/make.py`.

Needs a build of the demo in out/ (rootgap build assemblies/sand-rail-four.toml). Writes PNG and
SVG files beside this script.
"""

from __future__ import annotations

import json
import re
import shutil
import tempfile
from pathlib import Path

import cadquery as cq
import ezdxf
import numpy as np
import pypdfium2
from cadquery.occ_impl.assembly import toVTK
from ezdxf.addons.drawing import Frontend, RenderContext, config, layout, svg
from PIL import Image
from vtkmodules.vtkCommonCore import vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
from vtkmodules.vtkFiltersCore import vtkTubeFilter
from vtkmodules.vtkIOImage import vtkPNGWriter
from vtkmodules.vtkRenderingCore import (
    vtkActor,
    vtkLightKit,
    vtkPolyDataMapper,
    vtkRenderer,
    vtkRenderWindow,
    vtkWindowToImageFilter,
)

import rootgap
from rootgap.geometry.distance import Block, Body, Rod
from rootgap.solids.export import assembly
from rootgap.solids.whole import fixture_parts, parts
from rootgap.writers.access import access_picture
from rootgap.writers.space import space_picture
from rootgap.writers.tradeoff import tradeoff_svg
from rootgap.writers.ways import ways_svg

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
NAME = "sand-rail-four"
#: The other demos, and what way each is looked at.
DEMOS = {
    "jet-boat-v6": (-1.0, 0.3, -0.8),
    "hill-climb-six": (-0.5, -0.5, -1.0),
    "kart-four-collector": (0.6, 0.6, -1.0),
}
PAPER = (0.97, 0.96, 0.94)
RED = (0.80, 0.10, 0.08)


def shot(renderer: vtkRenderer, towards: tuple, zoom: float, path: Path, size: tuple[int, int] = (1400, 800)) -> None:
    """Render looking along `towards`, y up, and write a PNG of a few colours."""
    renderer.SetBackground(*PAPER)
    renderer.SetAutomaticLightCreation(False)
    lights = vtkLightKit()
    lights.SetKeyLightIntensity(0.95)
    lights.AddLightsToRenderer(renderer)
    camera = renderer.GetActiveCamera()
    camera.SetFocalPoint(0, 0, 0)
    camera.SetPosition(*(-np.array(towards)))
    camera.SetViewUp(0, 1, 0)
    camera.ParallelProjectionOn()
    renderer.ResetCamera()
    camera.Zoom(zoom)
    window = vtkRenderWindow()
    window.SetOffScreenRendering(True)
    window.SetMultiSamples(8)
    window.SetSize(*size)
    window.AddRenderer(renderer)
    window.Render()
    grab = vtkWindowToImageFilter()
    grab.SetInput(window)
    writer = vtkPNGWriter()
    writer.SetFileName(str(path))
    writer.SetInputConnection(grab.GetOutputPort())
    writer.Write()
    Image.open(path).convert("P", palette=Image.Palette.ADAPTIVE, colors=128).save(path, optimize=True)


def line(points: np.ndarray, color: tuple, radius: float) -> vtkActor:
    """Return a tube along points, (n, 3), mm."""
    data, cells, at = vtkPolyData(), vtkCellArray(), vtkPoints()
    cells.InsertNextCell(len(points))
    for point in points:
        cells.InsertCellPoint(at.InsertNextPoint(*point))
    data.SetPoints(at)
    data.SetLines(cells)
    tube = vtkTubeFilter()
    tube.SetInputData(data)
    tube.SetRadius(radius)
    tube.SetNumberOfSides(12)
    mapper = vtkPolyDataMapper()
    mapper.SetInputConnection(tube.GetOutputPort())
    actor = vtkActor()
    actor.SetMapper(mapper)
    actor.GetProperty().SetColor(*color)
    return actor


def polyline(path: Path, layer: str) -> np.ndarray:
    """Return the points of a layer's polyline, closed ones with their first point again."""
    (entity,) = ezdxf.readfile(path).modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    points = np.array(entity.get_points("xy"))
    return np.vstack([points, points[:1]]) if entity.closed else points


def wrapped(uv: np.ndarray, frame: dict, r_out: float, developed: float, v0: float) -> np.ndarray:
    """Return flat points put back on their pipe, by the sentence in the manifest's documentation."""
    origin, axis, ref = (np.array(frame[key]) for key in ("origin", "axis", "ref"))
    t = 2 * uv[:, :1] / developed
    return origin + (v0 + uv[:, 1:]) * axis + r_out * (np.cos(t) * ref + np.sin(t) * np.cross(axis, ref))


def demo_pictures() -> None:
    """The other demos, each from the side that shows most of it."""
    for name, towards in DEMOS.items():
        demo = rootgap.load(ROOT / "assemblies" / f"{name}.toml")
        shot(toVTK(demo.solid()), towards, 1.5, HERE / f"{name}.png", (1000, 640))


def near_picture() -> None:
    """What is near in a crowded bay."""
    bay = rootgap.load(ROOT / "assemblies" / "ice-racer-four.toml")
    path = HERE / "space.png"
    path.write_bytes(space_picture(bay.space, bay.space.rows(), bay.neighbours()))
    Image.open(path).convert("RGB").save(path, optimize=True)


def access_picture_of(manifold: rootgap.Manifold) -> None:
    """The tools on its bolts, and its parts on their way out."""
    path = HERE / "access.png"
    path.write_bytes(access_picture(manifold.layout, manifold.access()))
    Image.open(path).convert("RGB").save(path, optimize=True)


def whole_picture(manifold: rootgap.Manifold) -> None:
    """What is welded, without what bolts to it."""
    welded = list(parts(manifold.layout, manifold.joints))
    shot(toVTK(assembly("whole", welded)), (-0.45, 0.3, -1.0), 1.5, HERE / "whole.png")


def fixture_picture(manifold: rootgap.Manifold) -> None:
    """What is welded, as it lies in its fixture."""
    shown = [*parts(manifold.layout, manifold.joints), *fixture_parts(manifold.layout.fixtures)]
    shot(toVTK(assembly("tacked", shown)), (-0.5, -0.75, -0.7), 1.25, HERE / "fixture.png", (1000, 640))


def wrapped_back_picture(manifold: rootgap.Manifold, build: Path) -> None:
    """The log's solid, and the cut lines and holes of the DXF files put back in space."""
    shown = [part for part in parts(manifold.layout, manifold.joints) if part.name == "log-a"]
    renderer = toVTK(assembly("log", shown))
    manifest = json.loads((build / "manifest.json").read_text(encoding="utf-8"))
    for joint in manifest["joints"]:
        if joint["kind"] != "cope":
            continue
        cut, hole, branch, target = (joint[key] for key in ("cut", "hole", "branch", "target"))
        uv = polyline(build / cut["file"], cut["layer"])
        renderer.AddActor(line(wrapped(uv, branch, branch["r_out"], cut["developed_diameter"], cut["v0"]), RED, 0.7))
        uv = polyline(build / hole["file"], hole["layer"])
        points = wrapped(uv, hole, target["r_out"], hole["developed_diameter"], 0.0)
        renderer.AddActor(line(points, (0.1, 0.2, 0.5), 0.7))
    shot(renderer, (-0.3, 0.9, -0.6), 1.6, HERE / "wrapped-back.png")


def page_pictures(build: Path) -> None:
    document = pypdfium2.PdfDocument(build / "templates.pdf")
    for number, page in enumerate(document):
        text = page.get_textpage().get_text_range()
        if "primary.1-c.wrap" in text and number > 0:
            page.render(scale=1.6).to_pil().convert("L").save(HERE / "wrap-page.png", optimize=True)


def flange_picture(build: Path) -> None:
    document = ezdxf.readfile(build / "flat" / "flange.head.dxf")
    backend = svg.SVGBackend()
    look = config.Configuration(
        background_policy=config.BackgroundPolicy.WHITE, color_policy=config.ColorPolicy.COLOR, lineweight_scaling=2.0
    )
    Frontend(RenderContext(document), backend, config=look).draw_layout(document.modelspace())
    page = layout.Page(0, 0, layout.Units.mm, margins=layout.Margins.all(4))
    (HERE / "flange.svg").write_text(backend.get_string(page), encoding="utf-8")


def ways_picture() -> None:
    """The V6's crossover with a route in place of its pieces."""
    text = (ROOT / "assemblies" / "jet-boat-v6.toml").read_text(encoding="utf-8")
    before, _, after = text.partition("[run.crossover]")
    start, _, rest = after.partition("pieces = [")
    _, _, end = rest.partition("\n]\n")
    routed = f'{before}[run.crossover]{start}route  = "solve"\n{end}'
    routed = re.sub(r'\[vband\.crossover\]\nuse = ".*"\n', "", routed)
    # Parts are found from the file's own folder.
    file = ROOT / "assemblies" / "routed-for-the-tour.toml"
    try:
        file.write_text(routed, encoding="utf-8")
        found, sought = rootgap.load(file).ways("crossover", 3)
    finally:
        file.unlink()
    (HERE / "ways.svg").write_text(ways_svg(found, "crossover", sought), encoding="utf-8")


def body_mesh(body: Body, color: tuple[float, float, float]) -> vtkActor:
    """Return a keep-out, or a body of what stands on a flange, as it is drawn beside the metal."""
    if isinstance(body, Rod):
        length = float(np.linalg.norm(body.end - body.start))
        shape = cq.Solid.makeCylinder(body.radius, length, cq.Vector(*body.start), cq.Vector(*(body.end - body.start)))
    else:
        assert isinstance(body, Block)
        frame = body.frame
        corner = frame.origin - 0.5 * body.size @ np.array([frame.ref, frame.side, frame.axis])
        plane = cq.Plane(tuple(corner), xDir=tuple(frame.ref), normal=tuple(frame.axis))
        shape = cq.Workplane(plane).box(*body.size, centered=False).val()
    points, triangles = shape.tessellate(0.2, 0.1)
    at, cells, data = vtkPoints(), vtkCellArray(), vtkPolyData()
    for point in points:
        at.InsertNextPoint(*point.toTuple())
    for triangle in triangles:
        cells.InsertNextCell(3)
        for corner in triangle:
            cells.InsertCellPoint(corner)
    data.SetPoints(at)
    data.SetPolys(cells)
    mapper = vtkPolyDataMapper()
    mapper.SetInputData(data)
    actor = vtkActor()
    actor.SetMapper(mapper)
    actor.GetProperty().SetColor(*color)
    return actor


def bay_pictures() -> None:
    """The crowded bay as it is drawn first and as a search chose it, keep-outs red, and the search's trade-off."""
    first = rootgap.load(ROOT / "assemblies" / "ice-racer-four.toml")
    result = first.search()
    title = f"{first.assembly.title}: what fits"
    (HERE / "ice-racer-four.search.svg").write_text(tradeoff_svg(result, 1, title), encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        for name in ("assemblies", "parts"):
            shutil.copytree(ROOT / name, Path(folder) / name)
        file = Path(folder) / "assemblies" / "ice-racer-four.toml"
        chosen = rootgap.load(rootgap.load(file).changed(result, 1, file.with_name("chosen.toml")))
    for name, manifold in (("first", first), ("chosen", chosen)):
        renderer = toVTK(manifold.solid())
        for called in ("alternator", "engine-mount", "fan-shroud"):
            renderer.AddActor(body_mesh(manifold.layout.keepouts[called].body, RED))
        shot(renderer, (-0.5, -0.35, -1.0), 1.35, HERE / f"ice-racer-four-{name}.png", (900, 640))


def main() -> None:
    manifold = rootgap.load(ROOT / "assemblies" / f"{NAME}.toml")
    build = manifold.build(ROOT / "out").folder
    fixture_picture(manifold)
    whole_picture(manifold)
    wrapped_back_picture(manifold, build)
    page_pictures(build)
    flange_picture(build)
    demo_pictures()
    bay_pictures()
    near_picture()
    access_picture_of(manifold)
    ways_picture()


if __name__ == "__main__":
    main()
