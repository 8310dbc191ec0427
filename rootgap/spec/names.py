"""Names that one table of an assembly calls another by.

The values are looked at as they were read, so that a name that nothing bears is told
beside every other fault; what is not even a string is left to the validator.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from rootgap.errors import InputError
from rootgap.spec.source import Source, nearest_word
from rootgap.spec.toml import Key

Table = Mapping[str, Any]

#: How many names an error lists.
MOST_WORDS = 12
#: Keys of a piece that name a stock.
STOCK_KEYS = ("stock", "reducer", "cone", "transition")
#: Keys of a piece that name a part, and the tables that it stands in.
PART_KEYS = {"vband": "vband"}
#: No port's number has so many.
MOST_DIGITS = 9


def name_faults(source: Source, ports: Mapping[str, int | None]) -> Iterator[InputError]:
    """Yield a fault for every name that nothing in the file bears, or that two runs claim.

    ports: how many each flange has, None where that is not known.
    """
    runs = _tables(source.values, "run")
    taken: dict[str, str] = {}
    for word in ("run", "flange", "divider"):
        yield from _capitals(source, word)
    for name, run in runs.items():
        yield from _claims(source, name, run, ports, taken)
        yield from _references(source, ("run", name), run, runs, ports)
        for number, other in _tables(run, "override").items():
            yield from _references(source, ("run", name, "override", number), other, runs, ports)
        each = run.get("each")
        if isinstance(each, str):
            yield from _each(source, name, run, each, ports)
        if isinstance(run.get("start"), str):
            yield from _start(source, name, run["start"], runs, ports)
    yield from _others(source, _run_names(runs, ports))


def _others(source: Source, members: Mapping[str, Table]) -> Iterator[InputError]:
    """Yield a fault for every name in the tables beside the runs that nothing bears. members: every run by its name."""
    for name, collector in _tables(source.values, "collector").items():
        yield from _legs(source, name, collector, members)
    for name, divider in _tables(source.values, "divider").items():
        yield from _parts(source, name, divider, members)
    for name, bank in _tables(source.values, "bank").items():
        yield from _known(source, ("bank", name, "flange"), bank.get("flange"), _names(source, "flange"))
    for name, salvage in _tables(source.values, "salvage").items():
        yield from _known(source, ("salvage", name, "bank"), salvage.get("bank"), _names(source, "bank"))
    yield from _envelopes(source)
    yield from _around(source)
    yield from _fixture(source, members)
    for name, members_of in members.items():
        yield from _merges(source, name, members_of)


def _around(source: Source) -> Iterator[InputError]:
    """Yield a fault for a keep-out or a turbo that there is not, where service, install or drain names one."""
    keepouts = _names(source, "keepout")
    for name, service in _tables(source.values, "service").items():
        yield from _known(source, ("service", name, "keepout"), service.get("keepout"), keepouts)
    for name, drain in _tables(source.values, "drain").items():
        yield from _known(source, ("drain", name, "turbo"), drain.get("turbo"), _names(source, "turbo"))
    install = source.values.get("install")
    removed = install.get("removed") if isinstance(install, dict) else ()
    for index, name in enumerate(removed if isinstance(removed, list) else ()):
        yield from _known(source, ("install", "removed", index), name, keepouts)


def _envelopes(source: Source) -> Iterator[InputError]:
    """Yield a fault for an envelope on a flange that there is not, or that another one stands on."""
    taken: dict[str, str] = {}
    for word in ("turbo", "wastegate"):
        yield from _capitals(source, word)
        for name, envelope in _tables(source.values, word).items():
            key, on = (word, name, "on"), envelope.get("on")
            yield from _known(source, key, on, _names(source, "flange"))
            if isinstance(on, str) and taken.setdefault(on, f"{word}.{name}") != f"{word}.{name}":
                yield source.fault(key, on, f"{taken[on]} stands on flange.{on} already")


def _tables(values: Table, word: str) -> dict[str, Table]:
    found = values.get(word)
    return {key: each for key, each in found.items() if isinstance(each, dict)} if isinstance(found, dict) else {}


def _names(source: Source, word: str) -> list[str]:
    """Return the names that stand in the table `word`, whatever they stand for."""
    found = source.values.get(word)
    return list(found) if isinstance(found, dict) else []


def _capitals(source: Source, word: str) -> Iterator[InputError]:
    """Yield a fault for names that are one file name where capitals do not count."""
    seen: dict[str, str] = {}
    for name in _tables(source.values, word):
        first = seen.setdefault(name.casefold(), name)
        if first != name:
            allowed = f"differs from {word}.{first} by capitals only, which many disks cannot tell apart"
            yield source.fault((word, name), name, allowed)


def _claims(
    source: Source, name: str, run: Table, ports: Mapping[str, int | None], taken: dict[str, str]
) -> Iterator[InputError]:
    each, start = run.get("each"), run.get("start")
    places = [start] if isinstance(start, str) else []
    if isinstance(each, str):
        flange = _flange(each)
        places = [f"{flange}.port.{number + 1}" for number in range(ports.get(flange) or 0)]
    for place in places:
        if taken.setdefault(place, name) != name:
            word = "each" if isinstance(each, str) else "start"
            yield source.fault(("run", name, word), run[word], f"run.{taken[place]} starts at {place} already")
            return


def _numbers(source: Source, key: Key, end: Table, ports: Mapping[str, int | None]) -> Iterator[InputError]:
    """Yield a fault for an opening that the flange of an end has not."""
    flange, port = end.get("flange"), end.get("port", 1)
    count = ports.get(flange) if isinstance(flange, str) else None
    for number in port if isinstance(port, list) else [port]:
        if count is not None and isinstance(number, int) and number > count:
            yield source.fault(key, port, f"allowed: the number of an opening of flange.{flange}, 1 to {count}")


def _run_names(runs: Mapping[str, Table], ports: Mapping[str, int | None]) -> dict[str, Table]:
    """Return every run, `each` spread over its ports, by the name that it goes by."""
    names: dict[str, Table] = {}
    for name, run in runs.items():
        each = run.get("each")
        if not isinstance(each, str):
            names[name] = run
            continue
        others = _tables(run, "override")
        for number in range(1, (ports.get(_flange(each)) or 0) + 1):
            names[f"{name}.{number}"] = {**run, **others.get(str(number), {})}
    return names


def _legs(source: Source, name: str, collector: Table, members: Mapping[str, Table]) -> Iterator[InputError]:
    """Yield a fault for every leg that is no run, or that ends elsewhere."""
    yield from _known(source, ("collector", name, "bank"), collector.get("bank"), _names(source, "bank"))
    legs = collector.get("legs")
    for index, leg in enumerate(legs if isinstance(legs, list) else ()):
        key = ("collector", name, "legs", index)
        yield from _known(source, key, leg, members)
        end = _last(members[leg]) if isinstance(leg, str) and leg in members else {"merge": name}
        if not isinstance(end, dict) or end.get("merge") != name:
            yield source.fault(key, leg, f'run.{leg} does not end here: give it end = {{ merge = "{name}" }}')


def _parts(source: Source, name: str, divider: Table, members: Mapping[str, Table]) -> Iterator[InputError]:
    """Yield a fault where a divider parts no run, or one that does not begin or end as the divider needs."""
    key, run = ("divider", name), divider.get("run")
    yield from _known(source, (*key, "run"), run, members)
    if not isinstance(run, str) or run not in members:
        return
    start, end = members[run].get("start"), _last(members[run])
    if divider.get("through") is True and not (isinstance(start, dict) and "off" in start):
        allowed = f"allowed: only where run.{run} leaves another's side (start = {{ off = ... }})"
        yield source.fault((*key, "through"), divider["through"], allowed)
    if "slot" in divider and not (isinstance(end, dict) and "flange" in end):
        yield source.fault((*key, "slot"), divider["slot"], f"allowed: only where run.{run} ends on a flange")


def _fixture(source: Source, members: Mapping[str, Table]) -> Iterator[InputError]:
    """Yield a fault for every flange and run that the fixture names and nothing bears."""
    fixture = source.values.get("fixture")
    if not isinstance(fixture, dict):
        return
    flanges, runs = _names(source, "flange"), list(dict.fromkeys([*_names(source, "run"), *members]))
    yield from _known(source, ("fixture", "flange"), fixture.get("flange"), flanges)
    for word, names in (("runs", runs), ("posts", flanges)):
        found = fixture.get(word)
        for index, name in enumerate(found if isinstance(found, list) else ()):
            yield from _known(source, ("fixture", word, index), name, names)
    stations = fixture.get("stations")
    for name in stations if isinstance(stations, dict) else ():
        yield from _known(source, ("fixture", "stations", name), name, runs)


def _merges(source: Source, name: str, run: Table) -> Iterator[InputError]:
    """Yield a fault where a run ends on a collector that does not count it among its legs."""
    end = _last(run)
    collector = end.get("merge") if isinstance(end, dict) else None
    legs = _tables(source.values, "collector").get(str(collector), {}).get("legs")
    if isinstance(legs, list) and name not in legs:
        yield source.fault(
            ("collector", str(collector), "legs"), legs, f"run.{name} ends on it: it must be among its legs"
        )


def _references(
    source: Source, at: Key, run: Table, runs: Mapping[str, Table], ports: Mapping[str, int | None]
) -> Iterator[InputError]:
    yield from _known(source, (*at, "stock"), run.get("stock"), _names(source, "stock"))
    pieces = run.get("pieces")
    for index, piece in enumerate(pieces if isinstance(pieces, list) else ()):
        for word in STOCK_KEYS:
            if isinstance(piece, dict):
                yield from _known(source, (*at, "pieces", index, word), piece.get(word), _names(source, "stock"))
        for word, table in PART_KEYS.items():
            if isinstance(piece, dict):
                yield from _known(source, (*at, "pieces", index, word), piece.get(word), _names(source, table))
    targets = [word for word in _names(source, "run") if "each" not in runs.get(word, ()) and word != at[1]]
    start = run.get("start")
    if isinstance(start, dict):
        yield from _known(source, (*at, "start", "off"), start.get("off"), targets)
        yield from _known(source, (*at, "start", "on"), start.get("on"), _names(source, "flange"))
        yield from _known(source, (*at, "start", "bank"), start.get("bank"), _names(source, "bank"))
    route = run.get("route")
    if isinstance(route, dict) and isinstance(route.get("to"), dict):
        yield from _known(source, (*at, "route", "to", "bank"), route["to"].get("bank"), _names(source, "bank"))
    ends = run.get("ends")
    last, where = (ends[1], (*at, "ends", 1)) if isinstance(ends, list) and len(ends) > 1 else (None, at)
    for key, end in (((*at, "end"), run.get("end")), (where, last)):
        if isinstance(end, dict):
            yield from _known(source, (*key, "cope"), end.get("cope"), targets)
            yield from _known(source, (*key, "flange"), end.get("flange"), _names(source, "flange"))
            yield from _known(source, (*key, "merge"), end.get("merge"), _names(source, "collector"))
            yield from _numbers(source, (*key, "port"), end, ports)


def _each(
    source: Source, name: str, run: Table, each: str, ports: Mapping[str, int | None]
) -> Iterator[InputError]:
    words = [f"{flange}.port" for flange in ports]
    yield from _known(source, ("run", name, "each"), each, words)
    count = ports.get(_flange(each))
    seen: set[int] = set()
    for word in _tables(run, "override"):
        if not (word.isascii() and word.isdecimal()):
            continue  # The validator says so.
        key = ("run", name, "override", word)
        number = int(word[-MOST_DIGITS:])
        if count is not None and not (1 <= number <= count and len(word) < MOST_DIGITS):
            yield source.fault(key, None, f"allowed: the number of a port, 1 to {count}")
        elif number in seen:
            yield source.fault(key, None, f"port {number} has an override already")
        seen.add(number)


def _start(
    source: Source, name: str, start: str, runs: Mapping[str, Table], ports: Mapping[str, int | None]
) -> Iterator[InputError]:
    key = ("run", name, "start")
    ends = {f"{word}.end": run for word, run in runs.items() if "each" not in run and word != name}
    places = [f"{flange}.port.{number + 1}" for flange, count in ports.items() for number in range(count or 0)]
    unknown = any(count is None and start.startswith(f"{flange}.port.") for flange, count in ports.items())
    if start in ends:
        run = ends[start]
        if _last(run) != "open":
            yield source.fault(key, start, f'the end of run.{start.removesuffix(".end")} is not "open"')
    elif not unknown:
        outlets = [f"{word}.out" for word in _names(source, "collector")]
        cuts = [f"{word}.cut" for word in _names(source, "salvage")]
        yield from _known(source, key, start, [*ends, *places, *outlets, *cuts])


def _last(run: Table) -> object:
    """Return how a run's gas end is made."""
    pair = run.get("ends")
    return pair[1] if isinstance(pair, list) and len(pair) > 1 else run.get("end", "open")


def _flange(each: str) -> str:
    return each.removesuffix(".port")


def _known(source: Source, key: Key, found: object, words: Iterable[str]) -> Iterator[InputError]:
    """Yield a fault where the string `found` is none of `words`."""
    words = list(words)
    if isinstance(found, str) and found not in words:
        allowed = ", ".join(words[:MOST_WORDS]) + (", …" if len(words) > MOST_WORDS else "")
        near = nearest_word(found, words)
        yield source.fault(key, found, f"allowed: {allowed or 'nothing yet; define it first'}", near)


