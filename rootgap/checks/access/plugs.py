"""Can every spark plug be turned, does its boot keep clear of hot metal, and do service parts come off?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rootgap.checks.access.obstacles import Obstacle, Space
from rootgap.checks.access.tools import Nut, Try, first_of, tries
from rootgap.checks.finding import Finding, at_least
from rootgap.geometry.distance import Rod
from rootgap.geometry.frames import unit
from rootgap.geometry.sweeping import Cells, swept
from rootgap.layout import Layout, Plug
from rootgap.layout.aim import at_least as rounded_up
from rootgap.spec.access import ServiceSpec
from rootgap.stock.fasteners import tools
from rootgap.stock.handtools import hand_tools
from rootgap.stock.keepouts import clearance_rule

#: Height of a plug's hexagon over its seat, mm (from memory).
HEXAGON = 10.0
#: Of what a boot stays clear: of everything that the gas heats.
HOSE = clearance_rule("hose_or_wiring")


@dataclass(frozen=True)
class PlugAccess:
    """How a plug is come at. tries: of each tool up to the first that works; room: from its boot to hot metal, mm,
    nearest: what that is."""

    plug: Plug
    tries: tuple[Try, ...]
    room: float
    nearest: str

    @property
    def nut(self) -> Nut:
        """Its hexagon, for a tool."""
        return nut_of(self.plug)

    @property
    def best(self) -> Try:
        """The tool that works, or comes nearest to it."""
        return max(self.tries, key=lambda each: (each.works, min(each.room, 0.0), each.swing / each.needs))


@dataclass(frozen=True)
class ServiceAccess:
    """How far, mm, a part comes along its way, of all that it must, and what stops it."""

    name: str
    spec: ServiceSpec
    travel: float
    blocks: str


def plug_access(layout: Layout, space: Space) -> tuple[PlugAccess, ...]:
    """Return how every plug is come at. Raises StockError where no socket fits its hexagon."""
    hot = Space(tuple(thing for thing in space.things if _is_hot(thing, layout)))
    return tuple(_come_at(plug, space, hot) for plug in layout.access.plugs)


def _is_hot(thing: Obstacle, layout: Layout) -> bool:
    """Tell whether the gas heats it; a flange on a head is as cool as the head, or nearly."""
    if thing.unit == "manifold":
        return thing.name.removeprefix("flange.") not in layout.headed
    return any(hull.hot and hull.id == thing.name for envelope in layout.envelopes for hull in envelope.hulls)


def nut_of(plug: Plug) -> Nut:
    """Return a plug's hexagon, for a tool. Raises StockError where no socket fits it."""
    return Nut("", plug.frame, HEXAGON, 0.0, tools(plug.flats), plug.flats, hand_tools().plug_socket)


def _come_at(plug: Plug, space: Space, hot: Space) -> PlugAccess:
    nut = nut_of(plug)
    found = first_of(tries(nut, space, spanners=False))
    diameter, length = plug.boot
    boot = Rod(plug.frame.advanced(HEXAGON).origin, plug.frame.advanced(HEXAGON + length).origin, 0.5 * diameter)
    return PlugAccess(plug, found, *hot.room(boot))


def plug_findings(found: Sequence[PlugAccess]) -> Iterator[Finding]:
    """Yield, for each plug, whether a socket turns it, and how far its boot is from hot metal."""
    for access in found:
        works, limit = sum(each.works for each in access.tries), HOSE.least(shielded=access.plug.sleeved)
        yield at_least(
            "plug access",
            access.plug.id,
            float(works),
            1.0,
            "ways",
            "common practice, no source: a plug socket on the plug's own axis, hand tools as measured",
            "common practice, no source",
            f"no socket comes on it ({access.best.told}); move the primary beside it",
        )
        if access.nearest:
            yield at_least(
                "boot to hot metal",
                f"{access.plug.id} to {access.nearest}",
                access.room,
                limit,
                "mm",
                f"{HOSE.source}; {'sleeved' if access.plug.sleeved else 'bare'}",
                HOSE.support,
                f"{rounded_up(limit - access.room)} mm short: move the pipe, or "
                + ("shield it" if access.plug.sleeved else "sleeve the boot: sleeved = true"),
                "fail" if access.room < 0.0 else "warn",
            )


def service_access(layout: Layout, space: Space) -> tuple[ServiceAccess, ...]:
    """Return how far every service part comes off among pieces and hulls; other keep-outs are left out, for they and
    it stand as the engine was made."""
    found = []
    for name, spec in layout.access.services.items():
        body, along = layout.keepouts[spec.keepout].body, unit(spec.along)
        covers = {thing.name: thing.cover for thing in space.things if thing.cover is not None}
        # A part that goes one way past the pipes is a part that stands while the pipes go the other way past it.
        ways = {
            mark: swept(Cells.over((cover.skin,)), -along, spec.travel, body, 0.0) for mark, cover in covers.items()
        }
        nearest = min(ways, key=lambda mark: ways[mark], default="")
        reach = ways[nearest] if nearest else spec.travel
        found.append(ServiceAccess(f"service.{name}", spec, reach, nearest if reach < spec.travel else ""))
    return tuple(found)


def service_findings(found: Sequence[ServiceAccess]) -> Iterator[Finding]:
    """Yield, for each service part, how far it comes off, mm."""
    for access in found:
        yield at_least(
            "service part comes off",
            access.name,
            access.travel,
            access.spec.travel,
            "mm",
            "the parameter file",
            "the parameter file",
            f"{access.blocks} stops it: move that, or take the part off another way",
        )
