"""Sets that no layout keeps together, held against every subset."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from rootgap.search.conflict import Gathered, Slack


def gathered(values: np.ndarray) -> Gathered:
    things = [f"keepout.{index}" for index in range(values.shape[1])]
    found = Gathered(things)
    # In two parts, as a search gives them.
    for rows in np.array_split(np.arange(len(values)), 2):
        found.add(Slack(rows[:, None], values[rows]))
    return found


def leaves_some(values: np.ndarray, things: tuple[int, ...]) -> bool:
    return bool((values[:, list(things)] >= 0.0).all(axis=1).any())


@pytest.mark.parametrize("seed", range(40))
def test_the_set_is_in_conflict_and_every_smaller_one_is_not(seed):
    rng = np.random.default_rng(seed)
    values = rng.normal(size=(int(rng.integers(2, 30)), int(rng.integers(1, 7)))) - 0.8
    values[(values >= 0.0).all(axis=1), 0] = -1.0
    between = gathered(values).minimal()
    assert between
    assert not leaves_some(values, between)
    assert all(leaves_some(values, fewer) for fewer in combinations(between, len(between) - 1) if fewer)


def test_two_only_together():
    values = np.array([[1.0, -2.0, 5.0], [-3.0, 1.0, 5.0], [-1.0, -1.0, 5.0]])
    assert gathered(values).minimal() == (0, 1)


def test_what_one_thing_alone_is_short_of_is_kept_least_first():
    values = np.array([[1.0, -2.0], [1.0, -0.5], [-3.0, 1.0], [-1.0, -1.0]])
    found = gathered(values)
    assert [slack for slack, _ in found.only[1]] == [-0.5, -2.0]
    assert [slack for slack, _ in found.only[0]] == [-3.0]
    assert found.least is not None
    assert found.least[0] == -0.5
