"""Places of boxes and lines: nothing lies on anything else, few crossings, the same places every time."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hertzwright.engine import load_knowledge
from hertzwright.engine.belief import overlap, signs
from hertzwright.engine.review import layers
from hertzwright.engine.review.layers import Layout, Link, PlacedBox, Point, Rect, Way, layered
from hertzwright.engine.review.likeness import areas_alike
from hertzwright.engine.review.ring import ring

from small_knowledge import FILES, write

SLACK = 0.01


def track(way: Way, steps: int = 12) -> list[Point]:
    """The way as short straight pieces: its curves are cubic, with their handles half-way across."""
    points = [way.points[0]]
    for at in range(0, len(way.points) - 1, 2):
        (x0, y0), (x3, y3) = way.points[at : at + 2]
        half = (x0 + x3) / 2
        for step in range(1, steps + 1):
            t = step / steps
            a, b, c, d = (1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3
            points.append((a * x0 + (b + c) * half + d * x3, (a + b) * y0 + (c + d) * y3))
        points += way.points[at + 2 : at + 3]
    return points


def runs_through(line: Sequence[Point], box: Rect) -> bool:
    return any(box.inside(start, end, -SLACK) for start, end in itertools.pairwise(line))


def faults(layout: Layout, links: Sequence[Link]) -> list[str]:
    """Everything that lies on something else, or off the sheet."""
    found = []
    labels = [(f"label {n}", way.label) for n, way in enumerate(layout.ways) if way.label is not None]
    placed = [*layout.boxes.items(), *labels]
    for (one, first), (two, second) in itertools.combinations(placed, 2):
        if first.meets(second, -SLACK):
            found.append(f"{one} lies on {two}")
    for name, box in placed:
        if box.x < -SLACK or box.y < -SLACK or box.right > layout.wide + SLACK or box.bottom > layout.high + SLACK:
            found.append(f"{name} is off the sheet")
    for n, way in enumerate(layout.ways):
        line = track(way)
        left, top = (min(point[axis] for point in line) for axis in (0, 1))
        right, low = (max(point[axis] for point in line) for axis in (0, 1))
        around = Rect(left - 1, top - 1, right - left + 2, low - top + 2)
        for name, box in placed:
            if name != f"label {n}" and around.meets(box) and runs_through(line, box):
                found.append(f"line {n} runs through {name}")
        for name, (x, y) in ((links[n].source, line[0]), (links[n].target, line[-1])):
            box = layout.boxes[name]
            on = box.x - SLACK <= x <= box.right + SLACK and box.y - SLACK <= y <= box.bottom + SLACK
            if not on:
                found.append(f"line {n} does not touch {name}")
        if way.label is not None and not any(way.label.inside(start, end) for start, end in itertools.pairwise(line)):
            found.append(f"label {n} is not on its line")
    return found


@st.composite
def graphs(draw: st.DrawFn) -> tuple[list[PlacedBox], list[Link]]:
    count = draw(st.integers(2, 14))
    size = st.floats(20, 200, allow_nan=False)
    nodes = [PlacedBox(f"n{n}", draw(size), draw(size), draw(st.integers(0, 3))) for n in range(count)]
    pairs = [(a.id, b.id) for a in nodes for b in nodes if a.layer < b.layer]
    chosen = draw(st.lists(st.sampled_from(pairs), max_size=24)) if pairs else []
    labels = st.sampled_from([(0.0, 0.0), (40.0, 11.0), (120.0, 31.5)])
    return nodes, [Link(a, b, *draw(labels)) for a, b in chosen]


@settings(max_examples=40)
@given(graphs())
def test_in_layers_nothing_lies_on_anything(graph: tuple[list[PlacedBox], list[Link]]) -> None:
    nodes, links = graph
    layout = layered(nodes, links)
    assert faults(layout, links) == []
    assert layered(nodes, links) == layout
    for link in links:
        assert layout.boxes[link.source].right < layout.boxes[link.target].x
    for node in nodes:  # a box may grow, never shrink
        assert layout.boxes[node.id].wide >= node.wide
        assert layout.boxes[node.id].high >= node.high


@settings(max_examples=25)
@given(st.integers(1, 9), st.integers(0, 10**6))
def test_in_a_ring_nothing_lies_on_anything(count: int, seed: int) -> None:
    chance = random.Random(seed)
    nodes = [PlacedBox(f"n{n}", chance.uniform(60, 200), chance.uniform(20, 70)) for n in range(count)]
    pairs = list(itertools.combinations([node.id for node in nodes], 2))
    chosen = chance.sample(pairs, min(len(pairs), 14))
    links = [Link(a, b, 30.0, 11.0, chance.random()) for a, b in chosen]
    layout = ring(nodes, links)
    assert faults(layout, links) == []
    assert all(way.label is not None for way in layout.ways)
    assert list(layout.boxes) == [node.id for node in nodes]


def test_the_checks_of_these_tests_find_faults() -> None:
    """A box moved onto its neighbour, a label onto another, and a box onto a line are each told."""
    nodes = [PlacedBox("a", 50, 20), PlacedBox("b", 50, 20), PlacedBox("c", 50, 20, 1)]
    links = [Link("a", "c", 30, 10), Link("b", "c", 30, 10)]
    layout = layered(nodes, links)
    moved = Layout({**layout.boxes, "b": layout.boxes["a"]}, layout.ways, layout.wide, layout.high)
    assert {"a lies on b", "line 1 does not touch b"} <= set(faults(moved, links))
    same = Layout(layout.boxes, (layout.ways[0], layout.ways[0]), layout.wide, layout.high)
    assert "label 0 lies on label 1" in faults(same, links)
    label = layout.ways[0].label
    assert label is not None
    wall = Layout({**layout.boxes, "w": Rect(label.x - 9, 0, 5, layout.high)}, layout.ways, layout.wide, layout.high)
    assert "line 0 runs through w" in faults(wall, links)


# ---- order


def crossed(layout: Layout, links: Sequence[Link]) -> int:
    """Pairs of lines between two layers whose ends are the other way round, seen from outside the module."""
    ends = [(layout.boxes[link.source], layout.boxes[link.target]) for link in links]
    return sum(
        (a.middle[1] - c.middle[1]) * (b.middle[1] - d.middle[1]) < 0
        for (a, b), (c, d) in itertools.combinations(ends, 2)
        if a.x == c.x and b.x == d.x
    )


@pytest.mark.parametrize("seed", range(5))
def test_what_can_be_untangled_is(seed: int) -> None:
    """A forest, given in any order, is drawn without a crossing."""
    chance = random.Random(seed)
    roots = [f"r{n}" for n in range(6)]
    leaves = [(f"{root}-{n}", root) for root in roots for n in range(chance.randint(1, 4))]
    nodes = [PlacedBox(name, 60, 20) for name in roots] + [PlacedBox(name, 60, 20, 1) for name, _ in leaves]
    chance.shuffle(nodes)
    links = [Link(root, name, 30, 10) for name, root in leaves]
    layout = layered(nodes, links)
    assert layout.crossings == crossed(layout, links) == 0


def test_crossings_are_counted_as_drawn() -> None:
    """Two that are both tied to both cross once, three to three nine times: n over two, squared."""
    for count, expected in ((2, 1), (3, 9), (4, 36)):
        nodes = [PlacedBox(f"a{n}", 60, 20) for n in range(count)] + [
            PlacedBox(f"b{n}", 60, 20, 1) for n in range(count)
        ]
        links = [Link(f"a{n}", f"b{m}") for n in range(count) for m in range(count)]
        layout = layered(nodes, links)
        assert layout.crossings == crossed(layout, links) == expected


def test_what_nothing_orders_stays_as_given() -> None:
    nodes = [*(PlacedBox(name, 60, 20) for name in "qwerty"), PlacedBox("x", 60, 20, 1)]
    layout = layered(nodes, [Link(name, "x", 40, 11) for name in "qwerty"])
    assert sorted("qwerty", key=lambda name: layout.boxes[name].y) == list("qwerty")
    assert all(way.points[0][1] == pytest.approx(way.points[-1][1]) for way in layout.ways)  # lines run level


def test_a_long_line_goes_round_the_boxes_between() -> None:
    nodes = [PlacedBox("a", 60, 20), *(PlacedBox(f"b{n}", 60, 200, 1) for n in range(3)), PlacedBox("c", 60, 20, 2)]
    links = [Link("a", "c", 40, 11), *(Link("a", f"b{n}", 40, 11) for n in range(3))]
    layout = layered(nodes, links)
    assert faults(layout, links) == []
    assert len(layout.ways[0].points) == 5


@given(st.lists(st.floats(-100, 100), min_size=1, max_size=12))
def test_heights_are_the_least_squares_ones(wanted: list[float]) -> None:
    """Against the min-max formula of isotonic regression (Barlow and others 1972, from memory)."""
    count = len(wanted)
    mean = {(i, j): math.fsum(wanted[i : j + 1]) / (j + 1 - i) for i in range(count) for j in range(i, count)}
    expected = [max(min(mean[i, j] for j in range(k, count)) for i in range(k + 1)) for k in range(count)]
    assert layers._rising(wanted) == pytest.approx(expected, abs=1e-9)


def test_ring_neighbours_are_those_most_closely_tied() -> None:
    nodes = [PlacedBox(name, 100, 30) for name in "acebdf"]
    links = [Link(a, b, 30, 11, 5.0) for a, b in itertools.pairwise("abcdefa")]
    links.append(Link("a", "d", 30, 11, 0.1))
    layout = ring(nodes, links)
    middle = layout.wide / 2, layout.high / 2

    def turn(name: str) -> float:
        x, y = layout.boxes[name].middle
        return math.atan2(y - middle[1], x - middle[0])

    order = sorted("abcdef", key=turn)
    found = {frozenset(pair) for pair in itertools.pairwise([*order, order[0]])}
    assert found == {frozenset(pair) for pair in itertools.pairwise("abcdefa")}


# ---- misuse


def test_a_link_that_runs_back_or_nowhere_is_refused() -> None:
    nodes = [PlacedBox("a", 10, 10), PlacedBox("b", 10, 10, 1)]
    with pytest.raises(ValueError, match="b to a does not run to a higher layer"):
        layered(nodes, [Link("b", "a")])
    with pytest.raises(ValueError, match="a to a"):
        layered(nodes, [Link("a", "a")])
    for lay in (layered, ring):
        with pytest.raises(KeyError):
            lay(nodes, [Link("a", "z", 5, 5)])


def test_nothing_is_drawn_of_nothing() -> None:
    assert layered([], []) == Layout({}, (), 0.0, 0.0)
    assert ring([], []) == Layout({}, (), 0.0, 0.0)


# ---- likeness


def test_overlap_by_hand() -> None:
    one = {("a", 1): 0.75, ("b", 1): 0.25}
    two = {("a", 1): 0.25, ("b", 1): 0.25, ("b", 2): 0.5}
    assert overlap(one, two) == pytest.approx((0.25 + 0.25) / (0.75 + 0.25 + 0.5))
    assert overlap(one, one) == 1.0
    assert overlap(one, {}) == 0.0
    assert overlap({}, {}) == 0.0


def test_areas_by_hand(tmp_path: Path) -> None:
    # speed_high goes to an area of its own. It shows frequency high .75; rod_long that and stop_gap none .75;
    # rod_short frequency low .25, high .05 and stop_gap wide .75.
    text = FILES["areas/linkage.yaml"]
    start, end = text.index("  speed_high:"), text.index("remedies:")
    remedy = text.index("  set_speed:")
    linkage = text[:start] + text[end:remedy]
    governor = (
        "area: governor\ntitle: Governor\nbrief: It holds the speed.\ncauses:\n"
        + text[start:end]
        + "remedies:\n"
        + text[remedy:]
    )
    folder = write(tmp_path, {"areas/linkage.yaml": linkage, "areas/governor.yaml": governor})
    knowledge = load_knowledge(folder)
    assert signs(knowledge, "rod_short") == {("frequency", 1): 0.25, ("frequency", 2): 0.05, ("stop_gap", 2): 0.75}
    (found,) = areas_alike(knowledge)
    long, short = 0.75 / 1.5, 0.05 / (0.25 + 0.75 + 0.75)
    assert {found.first, found.second} == {"governor", "linkage"}
    assert found.value == pytest.approx((long + short + long) / 3)
    assert set(found.causes) == {"rod_long", "speed_high"}
    assert found.most == pytest.approx(long)
