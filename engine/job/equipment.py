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
    state, _ = fits_of(catalogue, kind, name)
    found = [each for needed in _needed(catalogue, kind, name) if _none_there(needed, absent) for each in needed]
    found += [each for each in absent if state and state in catalogue.tools[each].states]
    return tuple(dict.fromkeys(found))


def instead(catalogue: Catalogue, kind: str, name: str, absent: Collection[str]) -> tuple[str, ...]:
    """The tools by which a step can be done although one that it names is not there."""
    found = [
        each
        for needed in _needed(catalogue, kind, name)
        if not _none_there(needed, absent) and any(tool in absent for tool in needed)
        for each in needed
        if each not in absent
    ]
    return tuple(dict.fromkeys(found))


def _none_there(needed: Collection[str], absent: Collection[str]) -> bool:
    return all(each in absent for each in needed)


def _needed(catalogue: Catalogue, kind: str, name: str) -> list[list[str]]:
    """The tools of a step as ids, each with those that do as well; empty where one is not known."""
    written: Iterable[str] = ()
    if kind == "check":
        written = catalogue.checks[name].tools
    elif kind == "remedy":
        written = catalogue.remedies[name].tools
    elif kind == "setting":
        written = catalogue.setting[name].tools
    ids = {other: tool.id for tool in catalogue.tools.values() for other in tool.names}
    return [[ids.get(each, "") for each in alternatives(text, ids)] for text in written]
