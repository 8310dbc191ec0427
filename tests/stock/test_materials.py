"""Materials by the names people give them."""

from __future__ import annotations

import pytest

from rootgap.errors import StockError
from rootgap.stock import material, materials


@pytest.mark.parametrize(
    ("asked", "name", "grade"),
    [
        ("A53 B", "carbon steel", "A53 B"),
        ("astm a53 gr. b", "carbon steel", "A53 B"),
        ("A106 Grade B", "carbon steel", "A106 B"),
        ("mild steel", "carbon steel", "mild steel"),
        ("carbon steel", "carbon steel", "carbon steel"),
        ("304", "304L", "304"),
        ("304l", "304L", "304L"),
        ("AISI 321", "321", "321"),
        ("1.4541", "321", "1.4541"),
        ("309s", "309", "309S"),
        ("sg iron", "ductile iron", "SG iron"),
        ("EN-GJS-400", "ductile iron", "EN-GJS-400"),
        ("gray iron", "grey iron", "gray iron"),
    ],
)
def test_material_by_any_name(asked: str, name: str, grade: str) -> None:
    found = material(asked)
    assert (found.name, found.grade) == (name, grade)


def test_every_name_leads_to_its_own_row() -> None:
    names = [(row.name, word) for row in materials() for word in (row.name, *row.aliases)]
    assert [(material(word).name, material(word).grade) for _, word in names] == names


def test_every_material_names_its_source() -> None:
    assert all(row.source for row in materials())


@pytest.mark.parametrize(
    ("name", "density"),
    [
        ("carbon steel", 7850.0),  # ASME B36.10M mass formula, 0.0246615 kg/m per mm2 over pi
        ("304L", 7900.0),  # EN 10088-1
        ("321", 7900.0),  # EN 10088-1
        ("309", 7900.0),  # a maker's data sheet for 1.4828
        ("ductile iron", 7100.0),  # EN 1563, from memory
        ("grey iron", 7200.0),  # EN 1561, from memory
    ],
)
def test_density(name: str, density: float) -> None:
    assert material(name).density == density


@pytest.mark.parametrize(
    ("asked", "neighbours"),
    [
        ("mild stel", ("mild steel",)),
        ("ductle iron", ("ductile iron", "nodular iron", "grey iron")),
        ("unobtainium", ("carbon steel", "304L", "321", "309", "ductile iron", "grey iron")),
        ("", ("carbon steel", "304L", "321", "309", "ductile iron", "grey iron")),
    ],
)
def test_material_that_is_not_there(asked: str, neighbours: tuple[str, ...]) -> None:
    with pytest.raises(StockError) as caught:
        material(asked)
    assert (caught.value.table, caught.value.found, caught.value.neighbours) == (
        "material",
        asked,
        neighbours,
    )
