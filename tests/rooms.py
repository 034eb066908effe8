"""The rooms of the house, as the contract in pyproject.toml has them.

Purpose: the picture in DEVELOPERS.md, made from the contract and from the first line of each room's door.
Law: `python -m tests.rooms` prints what DEVELOPERS.md holds between its marks; a test compares the two.
"""

from __future__ import annotations

import ast
import tomllib
from pathlib import Path

ROOT = Path(__file__).parent.parent
BEGIN, END = "<!-- rooms: made by `python -m tests.rooms` -->", "<!-- rooms end -->"


def floors(top: str) -> tuple[tuple[str, ...], ...]:
    """The floors of `engine` or `cli`, uppermost first, each with its rooms."""
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"][
        "contracts"
    ]
    listed = next(each for each in contracts if each.get("containers") == [f"hertzwright.{top}"])
    return tuple(tuple(name.strip() for name in floor.split("|")) for floor in listed["layers"])


def plate(top: str, room: str) -> str:
    """The first line of a room's door, or of a module that is a room of its own."""
    place = ROOT / top / room
    path = place / "__init__.py" if place.is_dir() else place.with_suffix(".py")
    return (ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or "").partition("\n")[0]


def picture() -> str:
    """Both houses, a floor a group, a room a line."""
    lines = ["```"]
    for top in ("cli", "engine"):
        lines.append(f"{top}/")
        for number, floor in enumerate(floors(top)):
            if number:
                lines.append("  " + "-" * 20)
            lines += [f"  {room:<11} {plate(top, room)}" for room in floor]
    return "\n".join([*lines, "```"])


if __name__ == "__main__":
    print(picture())
