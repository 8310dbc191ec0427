"""Judging every choice of a grid by its least distances to the keep-outs.

A run stands where its own values and those of what it begins at and ends on put it, so it is placed, and its distances
are found, once for each choice of those alone. A choice of everything is then looked up: the least of its runs'
margins.

Terminology
    unit     a run, what stands on a flange, or the flanges that runs begin on: what is placed and judged as one
    code     the number of a unit's choice among the values of its own columns, the last column fastest
    margin   a distance less the clearance that its keep-out asks for, mm
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from rootgap.checks.clearance import metal_of
from rootgap.errors import GeometryError
from rootgap.geometry.distance import Shrunk
from rootgap.joints import refuse_alone
from rootgap.layout import Envelope, Hull, Keepout, Piece, Placer, Run
from rootgap.search.figures import heads_of, kind_of, pipe_of, turn_of, ways_out
from rootgap.search.near import Near, Stacks, Thing, pieces_of
from rootgap.search.space import Grid, Indices
from rootgap.search.variants import Choice, Variants
from rootgap.spec import RunSpec

Array = NDArray[np.float64]
#: What a unit places: the flanges that runs begin on, as pieces.
Made = Run | Envelope | tuple[Piece, ...]
#: Called with how many more runs are placed, or need not be.
Tick = Callable[[int], None]

#: The flanges that runs begin on, as a unit.
PLATES = "flanges"
#: The kind of what cannot be placed.
REFUSED = -1
#: Where more than this, mm, is left beyond enough margin, growth and motion are not asked for.
_TRAVEL = 40.0
#: So many placed runs are held against the keep-outs at a time, and so many choices looked up.
_BATCH, _ROWS = 96, 100_000


@dataclass(frozen=True)
class Unit:
    """What is placed as one. columns: the parameters that it depends on; own: those that change its own table; parents:
    the units that must be in place before it."""

    name: str
    columns: tuple[int, ...]
    own: tuple[int, ...] = ()
    parents: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Table:
    """A unit's figures by its code. margin: (n, keep-outs), mm; pipe: (n,), mm; turn: (n,), degrees; kind: (n,), a
    number that is the same for equally many welds, 0 where it is not placed, `REFUSED` where it cannot be."""

    margin: Array
    pipe: Array
    turn: Array
    kind: Indices

    @classmethod
    def empty(cls, count: int, keepouts: int) -> Table:
        """Return the table of a unit of which nothing is placed yet."""
        nought = np.zeros(count)
        return cls(np.full((count, keepouts), -np.inf), nought, nought.copy(), np.zeros(count, dtype=np.int64))

    @property
    def worst(self) -> Array:
        """The least margin of each code over all keep-outs, (n,), mm."""
        return self.margin.min(axis=1, initial=np.inf)

    @property
    def known(self) -> Array:
        """The margins, (n, keep-outs), mm, infinite of what is not placed."""
        return np.where(self.kind[:, None] > 0, self.margin, np.inf)


@dataclass(frozen=True, eq=False)
class Figures:
    """Choices and what they come to. choices: (n, parameters), indices into all values; margins: (n, keep-outs), mm;
    pipe: (n,), mm; turn: (n,), degrees; kinds: (n,), a number that is the same for equally many welds."""

    choices: Indices
    margins: Array
    pipe: Array
    turn: Array
    kinds: Indices

    def __len__(self) -> int:
        return len(self.choices)

    @property
    def margin(self) -> Array:
        """The least margin of each over all keep-outs, (n,), mm: infinite without any."""
        return self.margins.min(axis=1, initial=np.inf)

    def only(self, which: NDArray[np.bool_] | NDArray[np.intp]) -> Figures:
        """Return some of them."""
        return Figures(self.choices[which], self.margins[which], self.pipe[which], self.turn[which], self.kinds[which])

    @classmethod
    def joined(cls, parts: Sequence[Figures]) -> Figures:
        """Return the figures of several grids as one, each choice once, in their order."""
        whole = cls(
            np.vstack([part.choices for part in parts]),
            np.vstack([part.margins for part in parts]),
            *(np.concatenate([getattr(part, word) for part in parts]) for word in ("pipe", "turn", "kinds")),
        )
        return whole.only(np.unique(whole.choices, axis=0, return_index=True)[1])


@dataclass(frozen=True, eq=False)
class Judged:
    """A grid with the tables of its units, in their order. placed: how many runs were; refused: how many were not, by
    the unit and what was said of its first; ways: for each run that gas comes in by, the units whose turns its gas
    makes; stopped: whether the tables were not filled to the end."""

    grid: Grid
    units: tuple[Unit, ...]
    tables: Mapping[str, Table]
    placed: int
    refused: Mapping[str, tuple[int, str]] = field(default_factory=dict)
    ways: tuple[tuple[str, ...], ...] = ()
    stopped: bool = False

    def tried(self, least: float) -> int:
        """Return of how many choices it is known whether they are placed and clear, to `least`, mm."""
        if not self.stopped:
            return self.grid.size
        count = 0
        for _, codes in self._rows():
            kinds = np.array([self.tables[name].kind[code] for name, code in codes.items()])
            worst = np.min([self.tables[name].known[code] for name, code in codes.items()], axis=(0, 2), initial=np.inf)
            known = (kinds != 0).all(axis=0) | (kinds == REFUSED).any(axis=0) | (worst < least)
            count += int(np.count_nonzero(known))
        return count

    def figures(self, least: float) -> Iterator[Figures]:
        """Yield, some rows of the grid at a time, the figures of the choices whose runs are all placed and whose margin
        is at least `least`, mm."""
        for places, codes in self._rows():
            clear = np.ones(len(places), dtype=np.bool_)
            for name, table in self.tables.items():
                clear &= ((table.kind > 0) & (table.worst >= least))[codes[name]]
            kept = np.flatnonzero(clear)
            yield self._figures(places[kept], {name: code[kept] for name, code in codes.items()})

    def likeliest(self, least: float, count: int) -> list[tuple[float, Grid]]:
        """Return up to `count` grids of choices that may miss least, and by how much each does at least, mm, summed
        over the keep-outs, the least first: the values of what was placed, and all of what was not, for what it stands
        on is too near.

        least: the least margin that is asked for, mm."""
        found: dict[Choice, tuple[float, Grid]] = {}
        for places, codes in self._rows():
            short = np.zeros(len(places))
            for margin in np.min([self.tables[name].known[code] for name, code in codes.items()], axis=0).T:
                short += np.maximum(least - margin, 0.0)
            for name, code in codes.items():
                short[self.tables[name].kind[code] == REFUSED] = np.inf
            # Those with one grid miss alike: each grid is told by the first of its rows.
            opened = self._opened(places, codes)
            rows = np.unique(opened, axis=0, return_index=True)[1]
            rows = rows[np.isfinite(short[rows])]
            for row in rows[np.argsort(short[rows], kind="stable")][:count].tolist():
                found.setdefault(tuple(opened[row].tolist()), (float(short[row]), self._grid(opened[row])))
            found = dict(sorted(found.items(), key=lambda each: each[1][0])[:count])
        return [*found.values()]

    def _opened(self, places: Indices, codes: Mapping[str, Indices]) -> Indices:
        """Return the places of choices, (n, parameters), -1 where nothing that was placed depends on a parameter."""
        opened = np.full_like(places, -1)
        for unit in self.units:
            placed = np.flatnonzero(self.tables[unit.name].kind[codes[unit.name]] > 0)
            for column in unit.columns:
                opened[placed, column] = places[placed, column]
        return opened

    def _grid(self, opened: Indices) -> Grid:
        """Return the grid of places, (parameters,), all values where it is -1."""
        pairs = zip(self.grid.indices, opened.tolist(), strict=True)
        return Grid(tuple(values if at < 0 else values[at : at + 1] for values, at in pairs))

    def _rows(self) -> Iterator[tuple[Indices, Mapping[str, Indices]]]:
        """Yield some rows of the grid at a time: the place of each among the values, and the code of each unit."""
        for start in range(0, self.grid.size, _ROWS):
            places = self.grid.places(np.arange(start, min(start + _ROWS, self.grid.size)), self.grid.columns)
            yield (
                places,
                {unit.name: self.grid.codes(places[:, list(unit.columns)], unit.columns) for unit in self.units},
            )

    def _figures(self, places: Indices, codes: Mapping[str, Indices]) -> Figures:
        tables = [(table, codes[name]) for name, table in self.tables.items()]
        turns = {name: table.turn[codes[name]] for name, table in self.tables.items()}
        kinds = np.zeros(len(places), dtype=np.int64)
        for table, code in tables:
            # Any mixing does that tells unlike rows apart; it wraps round.
            kinds = kinds * np.int64(1_000_003) + table.kind[code]
        return Figures(
            self.grid.values(places),
            np.min([table.margin[code] for table, code in tables], axis=0),
            np.sum([table.pipe[code] for table, code in tables], axis=0),
            np.max([np.sum([turns[name] for name in way], axis=0) for way in self.ways], axis=0),
            kinds,
        )


@dataclass(frozen=True, eq=False)
class _Lot:
    """What grows alike. rows: (n,), which of what was placed each of `stacks` is; share: by which it grows, no unit;
    about: (3,), mm, where it grows from."""

    rows: NDArray[np.intp]
    stacks: Stacks
    share: float
    about: Array


class Judge:
    """Judges the choices of a search by its keep-outs."""

    def __init__(self, variants: Variants, least: float) -> None:
        """Take what is to be searched, and the least margin, mm. Raises GeometryError where the file's own values leave
        runs that wait for each other."""
        self.variants, self.least = variants, least
        self._near = Near()
        base = Placer(variants.assembly)
        self.names = tuple(base.keepouts)
        self.units = tuple(_units(variants, base))
        self._placing = set(base.placing.values())
        self._ways = ways_out(base.specs)
        heads = heads_of(base.specs, [plate.id.removeprefix("flange.") for plate in base.plates])
        on = {mark: heads.get(base.placing.get(spec.on, ""), ()) for mark, spec in base.standing.items()}
        self._heads = {**heads, **on}

    def work(self, grid: Grid) -> int:
        """Return how many runs are to be placed for a grid, at most."""
        return sum(grid.count(unit.columns) for unit in self.units)

    def split(self, grid: Grid) -> int:
        """Return the parameter by which a grid is parted with the least done twice."""
        shared = [
            (sum(grid.count(unit.columns) for unit in self.units if column in unit.columns), size)
            for column, size in enumerate(grid.shape)
        ]
        return max(grid.columns, key=lambda column: (shared[column][1] > 1, shared[column][0], -column))

    def judge(self, grid: Grid, tick: Tick, *, whole: bool = False) -> Judged:
        """Return the tables of a grid, as far as they are filled when it is stopped from the keyboard. What stands on a
        run that is too near a keep-out is left out, unless the `whole` is asked for."""
        tables = {unit.name: Table.empty(grid.count(unit.columns), len(self.names)) for unit in self.units}
        refused: dict[str, tuple[int, str]] = {}
        placed, stopped = 0, False
        try:
            for count in self._filled(grid, tables, refused, tick, whole=whole):
                placed += count
        except KeyboardInterrupt:
            stopped = True
        return Judged(grid, self.units, tables, placed, refused, self._ways, stopped)

    def _filled(
        self,
        grid: Grid,
        tables: Mapping[str, Table],
        refused: dict[str, tuple[int, str]],
        tick: Tick,
        *,
        whole: bool,
    ) -> Iterator[int]:
        """Fill the tables of a grid, and yield how many runs were placed, some at a time."""
        kept: dict[str, dict[int, Run]] = {unit.name: {} for unit in self.units}
        wanted = {parent for unit in self.units for parent in unit.parents}
        for unit in self.units:
            table = tables[unit.name]
            codes = self._open(unit, grid, tables, whole=whole)
            tick(len(table.kind) - len(codes))
            for start in range(0, len(codes), _BATCH):
                batch = codes[start : start + _BATCH]
                made = self._place(unit, grid, batch, kept, refused)
                table.kind[np.setdiff1d(batch, [*made])] = REFUSED
                self._fill(table, unit, grid, made, kept)
                if unit.name in wanted:
                    kept[unit.name].update((code, run) for code, run in made.items() if isinstance(run, Run))
                tick(len(batch))
                yield len(batch)

    def _open(self, unit: Unit, grid: Grid, tables: Mapping[str, Table], *, whole: bool) -> Indices:
        """Return the codes of a unit whose parents are in place, and clear where the `whole` is not asked for."""
        codes = np.arange(grid.count(unit.columns))
        open_ = np.ones(len(codes), dtype=np.bool_)
        for parent, of in self._parents(unit, grid, codes):
            table = tables[parent]
            open_ &= ((table.kind > 0) & ((table.worst >= self.least) | whole))[of]
        return codes[open_]

    def _parents(self, unit: Unit, grid: Grid, codes: Indices) -> Iterator[tuple[str, Indices]]:
        """Yield each parent of a unit with its code, (n,), for each of the unit's `codes`, (n,)."""
        places = grid.places(codes, unit.columns)
        for parent in self.units:
            if parent.name in unit.parents:
                where = [unit.columns.index(column) for column in parent.columns]
                yield parent.name, grid.codes(places[:, where], parent.columns)

    def _choices(self, unit: Unit, grid: Grid, codes: Indices) -> list[Choice]:
        """Return choices of all parameters with the values of a unit's `codes`, (n,), and the first of all others."""
        whole = np.zeros((len(codes), len(grid.indices)), dtype=np.int64)
        whole[:, list(unit.columns)] = grid.places(codes, unit.columns)
        return [tuple(row) for row in grid.values(whole).tolist()]

    def _place(
        self,
        unit: Unit,
        grid: Grid,
        codes: Indices,
        kept: Mapping[str, Mapping[int, Run]],
        refused: dict[str, tuple[int, str]],
    ) -> dict[int, Made]:
        """Return what a unit's `codes`, (n,), place; what cannot be placed is counted in `refused`."""
        made: dict[int, Made] = {}
        parents = dict(self._parents(unit, grid, codes))
        for row, (code, choice) in enumerate(zip(codes.tolist(), self._choices(unit, grid, codes), strict=True)):
            before = {parent: kept[parent][int(of[row])] for parent, of in parents.items()}
            try:
                made[code] = self._one(unit, choice, before)
            except GeometryError as fault:
                count, first = refused.get(unit.name, (0, str(fault)))
                refused[unit.name] = count + 1, first
        return made

    def _one(self, unit: Unit, choice: Choice, before: Mapping[str, Run]) -> Made:
        """Return what a unit places. before: its parents, in place. Raises GeometryError."""
        placer = self.variants.placer(choice)
        spec = None if unit.name == PLATES else self.variants.spec(unit.name, choice, unit.own)
        if placer is None or (spec is None and unit.name != PLATES):
            raise GeometryError(unit.name, "its values do not go together", "take one of them out of the search")
        if spec is None:
            return placer.plates
        if not isinstance(spec, RunSpec):
            return placer.stand(unit.name, spec, before[unit.parents[0]])
        run = placer.place(unit.name, spec, before)
        refuse_alone(run, before)
        return run

    def _fill(
        self,
        table: Table,
        unit: Unit,
        grid: Grid,
        made: Mapping[int, Made],
        kept: Mapping[str, Mapping[int, Run]],
    ) -> None:
        """Put the figures of what was placed into a unit's table."""
        codes = np.array([*made], dtype=np.int64)
        parents = dict(self._parents(unit, grid, codes))
        by_shared: dict[Choice, list[int]] = {}
        for row, (code, choice) in enumerate(zip(made, self._choices(unit, grid, codes), strict=True)):
            run = made[code]
            by_shared.setdefault(tuple(choice[column] for column in self.variants.shared), []).append(row)
            table.kind[code] = 1
            if isinstance(run, Run):
                target = kept[run.cope.cope][int(parents[run.cope.cope][row])] if run.cope else None
                table.kind[code], table.pipe[code] = kind_of(run), pipe_of(run)
                table.turn[code] = turn_of(run, target, self._half_angle(run))
        for rows in by_shared.values():
            placer = self.variants.placer(self._choices(unit, grid, codes[rows[:1]])[0])
            table.margin[codes[rows]] = np.inf
            if placer is not None and placer.keepouts:
                table.margin[codes[rows]] = self._margins([made[code] for code in codes[rows].tolist()], placer)

    def _margins(self, made: Sequence[Made], placer: Placer) -> Array:
        """Return the margins, (made, keep-outs), mm. What the gas does not heat keeps its own distance from
        everything."""
        bodies = [keepout.body for keepout in placer.keepouts.values()]
        asked = np.array([keepout.clearance for keepout in placer.keepouts.values()])
        groups = [self._hot(each) for each in made]
        lots = [*self._lots(made, placer)]
        margins = self._near.stacked(groups).distances(bodies, asked + self._far) - asked
        for column, keepout in enumerate(placer.keepouts.values()):
            self._running(margins[:, column], lots, keepout, placer)
        return np.minimum(margins, self._cool(made, placer))

    def _cool(self, made: Sequence[Made], placer: Placer) -> Array:
        """Return the margins, (made, keep-outs), mm, of what the gas does not heat, as growth moves its flange and the
        engine moves; infinite of what is heated."""
        cool = [[hull for hull in each.hulls if not hull.hot] if isinstance(each, Envelope) else [] for each in made]
        least = np.array([each.cold if isinstance(each, Envelope) else 0.0 for each in made])
        if not any(cool):
            return np.full((len(made), len(placer.keepouts)), np.inf)
        hot = [
            [hull.moved(self._carried(each, placer)) for hull in hulls] if isinstance(each, Envelope) else []
            for each, hulls in zip(made, cool, strict=True)
        ]
        still, grown = self._near.stacked(cool), self._near.stacked(hot)
        far = float(least.max()) + self._far
        margins = still.distances([keepout.body for keepout in placer.keepouts.values()], far) - least[:, None]
        for column, keepout in enumerate(placer.keepouts.values()):
            if keepout.reason != "service":
                rows = np.flatnonzero(margins[:, column] < self._far)
                seen, states = keepout.body, [grown]
                if keepout.side == "chassis":
                    seen, states = placer.motion.seen(keepout.body), [still, grown]
                for state in states:
                    rolled = state.only(rows).distances([seen], far)[:, 0] - least[rows]
                    margins[rows, column] = np.minimum(margins[rows, column], rolled)
        return margins

    def _carried(self, envelope: Envelope, placer: Placer) -> Array:
        """Return how far growth moves the flange that an envelope stands on, (3,), mm."""
        share = metal_of(envelope.plate).growth(placer.heat.cold, placer.heat.pipe)
        return np.asarray(share * (envelope.plate.end.origin - self._data(envelope.id, placer)[0]))

    def _running(self, margins: Array, lots: Sequence[_Lot], keepout: Keepout, placer: Placer) -> None:
        """Take from cold `margins`, (made,), mm, of one keep-out what growth and the engine's motion take of them,
        where they are not so large that it does not matter."""
        if keepout.reason == "service":
            return
        body = keepout.body if keepout.side == "engine" else placer.motion.seen(keepout.body)
        near = margins < self._far
        for lot in lots:
            kept = np.flatnonzero(near[lot.rows])
            some, far = lot.stacks.only(kept), keepout.clearance + self._far
            hot = (1.0 + lot.share) * some.distances([Shrunk(body, lot.about, lot.share)], far)[:, 0]
            if keepout.side == "chassis":
                hot = np.minimum(hot, some.distances([body], far)[:, 0])
            np.minimum.at(margins, lot.rows[kept], hot - keepout.clearance)

    def _lots(self, made: Sequence[Made], placer: Placer) -> Iterator[_Lot]:
        """Yield what is heated, by how it grows."""
        alike: dict[tuple[float, ...], list[tuple[int, Sequence[Thing]]]] = {}
        for row, each in enumerate(made):
            for things, about in self._growing(each, placer):
                alike.setdefault((self._growth(things, placer), *about), []).append((row, things))
        for key, pairs in alike.items():
            rows, groups = zip(*pairs, strict=True)
            yield _Lot(np.array(rows), self._near.stacked(groups), key[0], np.array(key[1:]))

    def _growing(self, made: Made, placer: Placer) -> Iterator[tuple[Sequence[Thing], tuple[float, ...]]]:
        """Yield what is heated of what a unit places, with where that grows from, mm: each flange on a head from its
        own place, a run that hangs between two heads from either."""
        if isinstance(made, tuple):
            yield from (((plate,), tuple(plate.start.origin.tolist())) for plate in made)
            return
        hot = self._hot(made)
        if hot:
            name = made.id if isinstance(made, Envelope) else made.name
            yield from ((hot, tuple(about.tolist())) for about in self._data(name, placer))

    def _data(self, name: str, placer: Placer) -> list[Array]:
        """Return the places, (3,), mm, that what a unit places may grow from."""
        heads = {plate.id.removeprefix("flange."): plate.start.origin for plate in placer.plates}
        return [heads[head] for head in self._heads.get(name, ()) if head in heads] or [np.zeros(3)]

    @property
    def _far(self) -> float:
        """The margin, mm, from which it does not matter how large it is, hot or cold."""
        return self.variants.assembly.goal.margin.enough + _TRAVEL

    def _growth(self, group: Sequence[Thing], placer: Placer) -> float:
        """Return by what share, no unit, the pieces of a group grow at most."""
        heat = placer.heat
        return max(
            (
                metal_of(None if isinstance(thing, Hull) else thing).growth(
                    heat.cold, heat.flange if thing in placer.plates else heat.pipe
                )
                for thing in group
            ),
            default=0.0,
        )

    def _half_angle(self, run: Run) -> float:
        return self.variants.assembly.collector[run.merge].half_angle if run.merge else 0.0

    def _hot(self, made: Made) -> Sequence[Thing]:
        """Return what keeps every keep-out's clearance."""
        if isinstance(made, Envelope):
            return [hull for hull in made.hulls if hull.hot]
        return pieces_of(made, placed=made.name in self._placing) if isinstance(made, Run) else made


def _units(variants: Variants, base: Placer) -> Iterator[Unit]:
    """Yield the units, each after those that must be in place before it."""
    yield Unit(PLATES, variants.shared)
    columns: dict[str, tuple[int, ...]] = {}
    on = {mark: (base.placing[spec.on],) for mark, spec in base.standing.items() if spec.on in base.placing}
    for name, parents in {**base.needs, **on}.items():
        own = variants.own(name)
        columns[name] = tuple(sorted({*variants.shared, *own, *(at for parent in parents for at in columns[parent])}))
        yield Unit(name, columns[name], own, tuple(parents))
