"""The house has rooms: doors are used, arrows go down, and the picture in the guide is the contract's."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import networkx as nx

import rooms

ROOT = rooms.ROOT
TOPS = ("engine", "cli")


def modules(top: str) -> list[Path]:
    return sorted(path for path in (ROOT / top).rglob("*.py") if "hertzwright" not in path.relative_to(ROOT).parts)


@cache
def imports(path: Path) -> list[tuple[int, tuple[str, ...]]]:
    """Line and target of each relative import, as a path of names from the root."""
    package = path.relative_to(ROOT).parent.parts
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.level:
            base = package[: len(package) - (node.level - 1)]
            if node.module:
                found.append((node.lineno, (*base, *node.module.split("."))))
            else:
                found += [(node.lineno, (*base, alias.name)) for alias in node.names]
    return found


def test_every_room_stands_on_a_floor_of_the_contract() -> None:
    for top in TOPS:
        named = {room for floor in rooms.floors(top) for room in floor}
        there = {
            path.name if path.is_dir() else path.stem
            for path in (ROOT / top).iterdir()
            if path.suffix == ".py" or (path / "__init__.py").is_file()
        } - {"__init__", "__pycache__", "hertzwright"}
        assert named == there, f"{top}: the contract and the folders differ: {sorted(named ^ there)}"


def test_arrows_go_down_and_rooms_are_entered_by_their_doors() -> None:
    height = {(top, room): -number for top in TOPS for number, floor in enumerate(rooms.floors(top)) for room in floor}
    wrong = []
    for top in TOPS:
        for path in modules(top):
            here = (top, path.relative_to(ROOT / top).parts[0].removesuffix(".py"))
            for line, target in imports(path):
                place = f"{path.relative_to(ROOT)}:{line}"
                room = target[:2]
                if len(target) < 2 or room == here:
                    continue
                if room[0] == top and here in height and height[room] >= height[here]:
                    wrong.append(f"{place} goes up or sideways to {'.'.join(target)}")
                if len(target) > 2:
                    wrong.append(f"{place} climbs in by the window: import it from {'.'.join(room)}")
    assert not wrong, "\n".join(wrong)


def test_no_room_holds_a_circle_of_imports() -> None:
    """An import for the types alone is an arrow too: who names another in a signature cannot be read without it.

    What both ends need goes below them: a protocol, or a value in a module of its own. Source: networkx.
    """
    circles = []
    for top in TOPS:
        for room in sorted(path.parent for path in (ROOT / top).rglob("__init__.py")):
            own = {path.stem: path for path in modules(top) if path.parent == room}
            prefix = room.relative_to(ROOT).parts
            arrows = nx.DiGraph()
            for name, path in own.items():
                arrows.add_edges_from(
                    (name, target[len(prefix)])
                    for _, target in imports(path)
                    if target[:-1] == prefix and target[-1] in own and target[-1] != name
                )
            circles += [
                f"{'/'.join(prefix)}: {' <-> '.join(sorted(each))}"
                for each in nx.strongly_connected_components(arrows)
                if len(each) > 1
            ]
    assert not circles, "\n".join(circles)


def test_a_door_says_what_the_room_is_for_and_exports_what_is_there() -> None:
    wrong = []
    for top in TOPS:
        for room in (room for floor in rooms.floors(top) for room in floor):
            door = ROOT / top / room / "__init__.py"
            if not door.is_file():
                continue
            tree = ast.parse(door.read_text(encoding="utf-8"))
            text = ast.get_docstring(tree) or ""
            wrong += [
                f"{top}/{room}: its door says nothing of {word!r}"
                for word in ("In:", "Out:", "Never:")
                if word not in text
            ]
            brought = {
                alias.asname or alias.name
                for node in tree.body
                if isinstance(node, ast.ImportFrom)
                for alias in node.names
            }
            listed = next(
                (
                    ast.literal_eval(node.value)
                    for node in tree.body
                    if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "__all__"
                ),
                [],
            )
            if len(listed) != len(set(listed)) or brought - {"annotations"} != set(listed):
                wrong.append(f"{top}/{room}: __all__ is not the list of what its door brings")
    assert not wrong, "\n".join(wrong)


def test_the_guide_shows_the_rooms_of_the_contract() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    shown = guide.partition(rooms.BEGIN)[2].partition(rooms.END)[0].strip()
    assert shown == rooms.picture(), "out of date: put what `python -m tests.rooms` prints between the marks"
