"""Routes: chains that arrive, stay clear, and are no worse than ways that are known to be there."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rootgap.geometry.chains import Chains, Places
from rootgap.geometry.distance import Ball, Block, Body, HalfSpace, Rod
from rootgap.geometry.frames import Frame, cross, unit
from rootgap.geometry.routing import Kind, Obstacle, Route, Task, Turn, find, room_at, spared
from rootgap.layout.closing import closing

#: Long and short radius elbows of NPS 1-1/2 and its pipe's radius, mm. Source: ASME B16.9, B36.10M.
LONG, SHORT = Kind("LR", 57.15, 5.0, 90.0), Kind("SR", 38.1, 12.0, 90.0)
R_OUT = 24.15
SHORTEST, APART = 20.0, 10.0
MADE = 100


def carried(start: Frame, route: Route) -> Frame:
    """The frame at a route's end, piece by piece."""
    frame = start
    for straight, turn in zip(route.straights, route.turns, strict=False):
        frame = frame.advanced(straight).bent(turn.radius, turn.angle, turn.clock)
    return frame.advanced(route.straights[-1])


def sampled(start: Frame, route: Route, step: float = 0.5) -> np.ndarray:
    """Points of a route's centre line, (n, 3), from `Frame` alone."""
    frame, points = start, []
    for number, straight in enumerate(route.straights):
        points += [frame.advanced(s).origin for s in np.arange(0.0, straight, step)]
        frame = frame.advanced(straight)
        if number < len(route.turns):
            turn = route.turns[number]
            share = np.degrees(step / turn.radius)
            points += [frame.bent(turn.radius, a, turn.clock).origin for a in np.arange(0.0, turn.angle, share)]
            frame = frame.bent(turn.radius, turn.angle, turn.clock)
    return np.array([*points, frame.origin])


class TestChains:
    FIGURES = st.lists(st.floats(5.0, 90.0), min_size=4, max_size=4)

    @given(FIGURES, st.lists(st.floats(0.0, 360.0), min_size=3, max_size=3), FIGURES)
    def test_they_lead_where_frames_carried_piece_by_piece_do(self, straights, clocks, angles):
        turns = tuple(Turn("LR", 57.15, a, c) for a, c in zip(angles, clocks, strict=False))
        route = Route(tuple(straights), turns, 0, np.inf, "")
        start = Frame.looking((3, 2, 1), (0.2, 1, -0.4))
        point, axis = route.chains(start).end
        there = carried(start, route)
        assert point[0] == pytest.approx(there.origin, abs=1e-9)
        assert axis[0] == pytest.approx(there.axis, abs=1e-12)

    def test_they_move_with_each_figure_as_differences_say(self):
        rng = np.random.default_rng(5)
        figures = rng.uniform(0.3, 1.4, (4, 10))
        figures[:, 0::3] *= 80.0
        radii = rng.uniform(30.0, 70.0, (4, 3))
        start, places = Frame.looking((1, 2, 3), (0.3, 1, 0.4)), Places.even(3, 4, 5)
        chains = Chains(start, radii, figures)
        turn, shift = chains.motions
        chosen = np.tile(np.arange(len(places.pieces)), (4, 1))
        moved = chains.point_motions(places, chosen, chains.points(places))
        for figure in range(10):
            step = np.zeros(10)
            step[figure] = 1e-6
            on, back = Chains(start, radii, figures + step), Chains(start, radii, figures - step)
            point, axis = ((a - b) / 2e-6 for a, b in zip(on.end, back.end, strict=True))
            assert point == pytest.approx(cross(turn[:, figure], chains.end[0]) + shift[:, figure], abs=1e-5)
            assert axis == pytest.approx(cross(turn[:, figure], chains.end[1]), abs=1e-6)
            along = (on.points(places) - back.points(places)) / 2e-6
            assert along == pytest.approx(moved[:, :, figure], abs=1e-5)


@dataclass(frozen=True)
class Made:
    """A made problem and the way that was hidden in it."""

    task: Task
    hidden: Route


def made(seed: int) -> Made:
    """A random chain of elbows and straights, and bodies that do not touch it, half of them in the straight way."""
    rng = np.random.default_rng(seed)
    while True:
        count = int(rng.choice([1, 2, 3], p=[0.1, 0.45, 0.45]))
        kinds = [(LONG, SHORT)[i] for i in rng.integers(0, 2, count)]
        # Some whole fittings, the others trimmed.
        angles = [float(rng.choice([45.0, 90.0])) if rng.random() < 0.4 else rng.uniform(20.0, 90.0) for _ in kinds]
        turns = [Turn(k.name, k.radius, a, rng.uniform(0.0, 360.0)) for k, a in zip(kinds, angles, strict=True)]
        straights = [rng.uniform(SHORTEST, 160.0) if rng.random() < 0.65 else 0.0 for _ in range(count + 1)]
        start = Frame.looking(rng.uniform(-100.0, 100.0, 3), rng.normal(size=3))
        hidden = Route(tuple(straights), tuple(turns), 0, np.inf, "")
        line = sampled(start, hidden, 4.0)
        # A chain that loops back onto itself is no way.
        gaps = np.linalg.norm(line[:, None] - line, axis=2)
        far = np.abs(np.subtract.outer(np.arange(len(line)), np.arange(len(line)))) * 4.0 > 100.0
        if hidden.length > 150.0 and not (far & (gaps < 2.0 * R_OUT + APART)).any():
            break
    goal = carried(start, hidden)
    stations = np.linspace(0.0, hidden.length, len(line))
    inner = line[(stations > R_OUT + 8.0) & (stations < hidden.length - R_OUT - 8.0)]
    obstacles: list[Obstacle] = []
    for _ in range(60):
        along = start.origin + rng.random() * (goal.origin - start.origin) + 40.0 * rng.normal(size=3)
        beside = line[rng.integers(0, len(line))] + 90.0 * rng.normal(size=3)
        at = along if rng.random() < 0.5 else beside
        body: Body = [
            Ball(at, rng.uniform(20.0, 70.0)),
            Rod(at, at + 80.0 * rng.normal(size=3), rng.uniform(10.0, 50.0)),
            Block(Frame.looking(at, rng.normal(size=3)), rng.uniform(30.0, 150.0, 3)),
            HalfSpace(at, unit(rng.normal(size=3))),
        ][rng.integers(0, 4)]
        clearance = rng.uniform(0.0, 25.0)
        if isinstance(body, HalfSpace):
            # Moved to stand just clear of the way, or no plane ever would.
            near = min(room_at(start, R_OUT, body), room_at(goal, R_OUT, body), body.distance(line).min() - R_OUT)
            body = HalfSpace(body.point + (near - clearance - rng.uniform(1.0, 10.0)) * body.normal, body.normal)
        if body.distance(inner).min() - R_OUT - clearance < 0.5:
            # It is in the way: no need to ask more exactly.
            continue
        obstacle = Obstacle(f"{type(body).__name__} {len(obstacles)}", body, clearance)
        spare, _ = spared(Task(start, (goal,), R_OUT, (LONG, SHORT), (obstacle,)), hidden)
        if 0.5 < spare < 120.0:
            obstacles.append(obstacle)
        if len(obstacles) == 4 + seed % 11:
            break
    task = Task(start, (goal,), R_OUT, (LONG, SHORT), tuple(obstacles), 3, SHORTEST, apart=APART)
    return Made(task, hidden)


def holds(task: Task, route: Route) -> None:
    """A route arrives, can be made, and is clear by points alone."""
    there = carried(task.start, route)
    assert there.origin == pytest.approx(task.goals[route.goal].origin, abs=2e-3)
    assert there.axis == pytest.approx(task.goals[route.goal].axis, abs=2e-5)
    assert all(straight == 0.0 or straight >= task.shortest - 1e-6 for straight in route.straights)
    least = {kind.name: kind.least for kind in task.kinds}
    assert all(least[turn.kind] - 1e-6 <= turn.angle <= 90.0 + 1e-6 for turn in route.turns)
    line = sampled(task.start, route)
    stations = np.linspace(0.0, route.length, len(line))
    inner = line[(stations > R_OUT) & (stations < route.length - R_OUT)]
    for obstacle in task.obstacles:
        assert float(obstacle.body.distance(inner).min(initial=np.inf)) >= R_OUT + obstacle.clearance - 0.05


def test_a_way_as_good_as_the_hidden_one_is_found(pytestconfig):
    """On a hundred made problems, every sixth of them unless the sweeps are run in full."""
    for seed in range(0, MADE, 1 if pytestconfig.getoption("--sweep") else 6):
        problem = made(seed)
        assert len(problem.task.obstacles) >= 3
        best, *_ = find(problem.task).routes
        holds(problem.task, best)
        hidden = problem.hidden
        assert best.welds <= hidden.welds, seed
        assert best.welds < hidden.welds or best.length <= hidden.length + 0.02, seed


def test_a_chain_that_cannot_change_is_not_taken_for_another_beside_it():
    """The hidden way, of a long and a short elbow, runs beside a shorter one of two short ones, which is not clear."""
    problem = made(286)
    best, *_ = find(problem.task).routes
    holds(problem.task, best)
    assert (best.welds, [turn.kind for turn in best.turns]) == (problem.hidden.welds, ["LR", "SR"])


def test_made_impossible_ones_are_told(pytestconfig):
    """The same problems with a wall without end between start and goal: with the hidden way through it, it alone is to
    blame."""
    for seed in range(5, MADE, 5 if pytestconfig.getoption("--sweep") else MADE):
        task = made(seed).task
        start, goal = task.start.origin, task.goals[0].origin
        middle = Frame.looking(0.5 * (start + goal), goal - start)
        wall = Obstacle("wall", Block(middle, np.array([1e5, 1e5, 20.0])), 5.0)
        found = find(replace(task, obstacles=(*task.obstacles, wall)))
        assert (found.routes, found.blocked.what, found.blocked.near) == ((), "way", "wall")
        assert found.blocked.without == ("wall",)
        # The middle of a pipe that goes through it comes to its middle: half its thickness, the room and the pipe.
        assert found.blocked.short == pytest.approx(10.0 + 5.0 + R_OUT, abs=0.1)


def test_the_same_problem_has_the_same_answer():
    task = made(7).task
    assert find(task) == find(task)


def test_several_ways_differ_by_more_than_a_diameter_and_come_best_first():
    task = made(0).task
    found = find(task, 3).routes
    assert len(found) == 3
    assert [route.rank for route in found] == sorted(route.rank for route in found)
    lines = [sampled(task.start, route, 2.0) for route in found]
    for number, one in enumerate(lines):
        holds(task, found[number])
        for other in lines[:number]:
            gaps = np.linalg.norm(one[:, None] - other, axis=2)
            # Somewhere one leaves the pipe of the other.
            assert max(gaps.min(axis=0).max(), gaps.min(axis=1).max()) > R_OUT
    assert find(task, 1).routes[0] == found[0]


def test_a_way_round_the_end_of_a_rod_is_among_several():
    """Over the rod there are many ways that are all alike; the one round its end is not lost among them."""
    rod = Obstacle("rod", Rod(np.array([150.0, -300.0, 150.0]), np.array([150.0, 400.0, 150.0]), 50.0), 40.0)
    start, goal = Frame.looking((0, 0, 0), (0, 0, 1)), Frame.looking((300, 60, 250), (0, 1, 0))
    # NPS 2. Source: ASME B16.9, B36.10M.
    task = Task(start, (goal,), 30.15, (Kind("SR", 50.8, 12.0, 90.0),), (rod,))
    over, round_ = find(task, 2).routes
    holds(task, over)
    holds(task, round_)
    assert sampled(start, over)[:, 1].min() > -300.0
    assert sampled(start, round_)[:, 1].min() < -300.0 - 40.0
    # Down to below the end and up again, and across.
    assert round_.length < 2.0 * 400.0 + 500.0


class TestClosedForms:
    def test_one_elbow_where_the_axes_meet(self):
        """Tangents of R tan(a / 2) off the corner (plane geometry)."""
        start, corner = Frame.looking((0, 0, 0), (0, 0, 1)), np.array([0.0, 0.0, 120.0])
        way = np.array([np.sin(np.radians(50.0)), 0.0, np.cos(np.radians(50.0))])
        task = Task(start, (Frame.looking(corner + 150.0 * way, way),), R_OUT, (LONG,), most=1)
        (route,) = find(task).routes
        tangent = LONG.radius * np.tan(np.radians(25.0))
        assert route.straights == pytest.approx((120.0 - tangent, 150.0 - tangent), abs=1e-4)
        assert route.turns[0].angle == pytest.approx(50.0, abs=1e-4)

    def test_nothing_but_a_straight_where_that_does(self):
        start = Frame.looking((0, 0, 0), (0, 1, 1))
        (route,) = find(Task(start, (start.advanced(90.0),), R_OUT, (LONG,))).routes
        assert (route.straights, route.turns, route.welds) == (pytest.approx((90.0,)), (), 2)

    @pytest.mark.parametrize("seed", range(6))
    def test_two_elbows_and_a_straight_are_those_of_an_aimed_run(self, seed):
        """Another method for the same three pieces: its corners held fast in the middle's direction."""
        rng = np.random.default_rng(seed)
        start = Frame.looking((0, 0, 0), (0, 0, 1))
        end = Frame.looking((rng.uniform(-150, 150), rng.uniform(-150, 150), 400.0), (*rng.uniform(-0.5, 0.5, 2), 1.0))
        other = closing("a", start, end, (LONG.radius, LONG.radius))
        (route,) = find(Task(start, (end,), R_OUT, (LONG,), most=2)).routes
        assert route.straights == pytest.approx((0.0, other.length, 0.0), abs=1e-6)
        assert [turn.angle for turn in route.turns] == pytest.approx(other.angles, abs=1e-6)
        assert [turn.clock for turn in route.turns] == pytest.approx(other.clocks, abs=1e-5)


class TestImpossible:
    START = Frame.looking((0, 0, 0), (0, 0, 1))
    GOAL = Frame.looking((150, 80, 300), (1, 0, 0.3))

    def task(self, *obstacles: Obstacle, **more: object) -> Task:
        return replace(Task(self.START, (self.GOAL,), R_OUT, (LONG, SHORT), obstacles), **more)

    def test_an_end_in_a_keep_out_is_told_with_its_depth(self):
        found = find(self.task(Obstacle("box", Block.upright(self.GOAL.origin, (80.0, 80.0, 80.0)), 5.0)))
        assert (found.routes, found.blocked.what, found.blocked.near) == ((), "end", "box")
        # Its rim is nearest to the box's skin, and must come out of it by the clearance.
        assert found.blocked.short == pytest.approx(45.0, abs=1e-6)

    def test_a_start_walled_in_has_no_way(self):
        walls = [
            HalfSpace(100.0 * np.array(n, float), -np.array(n, float))
            for n in ((1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1))
        ]
        obstacles = [Obstacle(f"wall {i}", wall, 0.0) for i, wall in enumerate(walls)]
        found = find(self.task(*obstacles))
        assert (found.routes, found.blocked.what) == ((), "end")

    def test_what_alone_is_in_the_way_is_named(self):
        wall = Obstacle("wall", Block.upright((0, 0, 200), (4000.0, 4000.0, 20.0)), 0.0)
        beside = Obstacle("ball", Ball(np.array([-200.0, 0.0, 100.0]), 40.0), 10.0)
        found = find(self.task(wall, beside))
        assert (found.routes, found.blocked.what, found.blocked.near) == ((), "way", "wall")
        assert found.blocked.without == ("wall",)
        # Any way goes through it: its middle is on the centre line.
        assert found.blocked.short == pytest.approx(10.0 + R_OUT, abs=12.0)

    def test_of_two_walls_neither_alone_is_to_blame(self):
        walls = [Obstacle(f"wall {z}", Block.upright((0, 0, z), (4000.0, 4000.0, 20.0)), 0.0) for z in (160, 220)]
        found = find(self.task(*walls))
        assert (found.routes, found.blocked.what, found.blocked.without) == ((), "way", ())

    def test_too_few_elbows_are_told(self):
        """Back beside itself, nearer than two long elbows turn: one to get away, and more than half a turn back."""
        back = Frame.looking((90, 0, 10), (0, 0, -1))
        found = find(Task(self.START, (back,), R_OUT, (LONG,)))
        assert (found.blocked.what, found.blocked.more) == ("reach", (True, False))
        assert find(Task(self.START, (back,), R_OUT, (LONG,), most=4)).routes
