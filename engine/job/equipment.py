"""What is not there today: tools, parts, and leave to load the set.

Purpose: which tools a step needs of those that are not there, and which tool is meant by a word.
Law: pure; a step that names two tools with "or" needs one of them. A set-up state that cannot be entered without a tool
needs it in every step that is made there.
Not here: which steps are proposed (see `advice`), and when a set is proven without them (see `acceptance`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from ..compiler import Catalogue, alternatives
from ..problems import quoted
from .event import JobError, unknown
from .fittings import fits_of


def tool_named(catalogue: Catalogue, text: str) -> str:
    """The id of the tool that a word names, by its id, its title or another name. Raises JobError."""
    wanted = " ".join(str(text).lower().replace("_", " ").split())
    for name, tool in catalogue.tools.items():
        if wanted == name.replace("_", " ") or wanted in tool.names:
            return name
    if not catalogue.tools:
        raise JobError(f"no tool {quoted(str(text))}; this knowledge has no list of tools")
    names = {other: tool for tool in catalogue.tools.values() for other in (tool.id, *tool.names)}
    raise unknown("tool", str(text), names)


def lacking(catalogue: Catalogue, kind: str, name: str, absent: Collection[str]) -> tuple[str, ...]:
    """The tools that are not there of those that a step needs. kind, name: as of a proposed step."""
    if not absent:
        return ()
    written: Iterable[str] = ()
    if kind == "check":
        written = catalogue.checks[name].tools
    elif kind == "remedy":
        written = catalogue.remedies[name].tools
    elif kind == "setting":
        written = catalogue.setting[name].tools
    state, _ = fits_of(catalogue, kind, name)
    ids = {other: tool.id for tool in catalogue.tools.values() for other in tool.names}
    found = []
    for text in written:
        needed = [ids.get(each, "") for each in alternatives(text, ids)]
        if all(each in absent for each in needed):
            found += needed
    found += [each for each in absent if state and state in catalogue.tools[each].states]
    return tuple(dict.fromkeys(found))
