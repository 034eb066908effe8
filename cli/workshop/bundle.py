"""Many causes behind one thing, bundled by area: a box for each area with its causes in it, and one line from the box.

Purpose: a picture of sixteen causes and two checks that can be read: few boxes, few lines. Many remedies that one check
proves are bundled in the same way.
Law: nothing is lost; a cause is a row of its area with the words of each of its ties, those that are weak beside the
others are told in one row together, and each bundled line is as strong as the strongest tie in it.
Not here: which causes are drawn at all (see `neighbours`), and how a box looks (see `picture`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from ...engine import Knowledge
from ...engine.problems import in_sentence
from ..terminal import percent
from .neighbours import Item, Part, Scene, Tie

MANY = 8
"""Causes, or remedies, from which on they are bundled."""
WEAK = 0.45
"""A cause that shows more seldom than this is told with the others that do."""


def bundled(knowledge: Knowledge, scene: Scene) -> Scene:
    """The scene with its causes in boxes by area where there are many of them, and its remedies; otherwise as it is.

    Areas stand in the order of their strongest causes. A picture of an area, where each cause is tied to its own checks
    and remedies, stays as it is.
    """
    if scene.kind not in ("check", "complaint"):
        return scene
    return _remedies(knowledge, _causes(knowledge, scene))


def _causes(knowledge: Knowledge, scene: Scene) -> Scene:
    causes = [item for item in scene.items if item.kind == "cause"]
    if len(causes) < MANY:
        return scene
    ties: dict[str, list[Tie]] = {item.id: [] for item in causes}
    for tie in scene.ties:
        if tie.source in ties:
            ties[tie.source].append(tie)
    areas: dict[str, list[Item]] = {}
    for item in sorted(causes, key=lambda each: -_strength(ties[each.id])):
        areas.setdefault(knowledge.causes[item.id].area, []).append(item)
    titles = {item.id: item.title for item in scene.items}
    boxes, lines = [], []
    for area, members in areas.items():
        title = knowledge.catalogue.areas[area]
        boxes.append(Item(area, "area", title, _count(members, "cause"), 0, parts=_parts(members, ties, titles)))
        lines += _lines(area, title, [tie for item in members for tie in ties[item.id]], titles)
    kept = tuple(item for item in scene.items if item.kind != "cause")
    rest = tuple(tie for tie in scene.ties if tie.source not in ties)
    return replace(scene, items=(*boxes, *kept), ties=(*lines, *rest))


def _remedies(knowledge: Knowledge, scene: Scene) -> Scene:
    """Remedies that the check proves, in boxes by area: all there is to say of each is its name."""
    proven = {tie.target: tie for tie in scene.ties if tie.kind == "proves"}
    members = [item for item in scene.items if item.id in proven]
    if len(members) < MANY:
        return scene
    areas: dict[str, list[Item]] = {}
    for item in members:
        areas.setdefault(knowledge.remedies[item.id].area, []).append(item)
    boxes, lines = [], []
    for area, listed in areas.items():
        first = proven[listed[0].id]
        parts = tuple(Part("", item.title, (proven[item.id].sentence,)) for item in listed)
        name = f"{area}:remedies"
        title = knowledge.catalogue.areas[area]
        boxes.append(Item(name, "remedy", title, _count(listed, "remedy"), listed[0].layer, parts=parts))
        sentence = f"{knowledge.checks[first.source].title} proves remedies of {in_sentence(title)}."
        lines.append(Tie(first.source, name, "proves", "proves them", sentence))
    kept = tuple(item for item in scene.items if item.id not in proven)
    rest = tuple(tie for tie in scene.ties if tie.kind != "proves")
    return replace(scene, items=(*kept, *boxes), ties=(*rest, *lines))


def _count(listed: Sequence[Item], one: str) -> str:
    many = "remedies" if one == "remedy" else f"{one}s"
    return f"{len(listed)} {one if len(listed) == 1 else many}"


def _strength(ties: Iterable[Tie]) -> float:
    """How strongly a cause shows: as in the check in which it shows least."""
    return min((tie.chance for tie in ties if tie.chance is not None), default=0.0)


def _parts(members: Sequence[Item], ties: dict[str, list[Tie]], titles: dict[str, str]) -> tuple[Part, ...]:
    """A row for each cause that shows clearly, and one for all that do not."""
    checks = {tie.target for item in members for tie in ties[item.id]}
    weak = [item for item in members if _strength(ties[item.id]) < WEAK]
    strong = [item for item in members if item not in weak]
    if len(weak) == 1:
        strong, weak = [*strong, *weak], []
    parts = [Part(item.title, _words(ties[item.id], titles, len(checks) > 1), _said(ties[item.id])) for item in strong]
    if weak:
        told = "; ".join(f"{in_sentence(item.title)} {percent(_strength(ties[item.id]))}" for item in weak)
        sentences = tuple(sentence for item in weak for sentence in _said(ties[item.id]))
        parts.append(Part("Weaker", told, sentences))
    return tuple(parts)


def _words(ties: Sequence[Tie], titles: dict[str, str], several: bool) -> str:
    return "; ".join(f"{titles[tie.target]}: {tie.words}" if several else tie.words for tie in ties)


def _said(ties: Iterable[Tie]) -> tuple[str, ...]:
    return tuple(tie.sentence for tie in ties)


def _lines(area: str, title: str, ties: Iterable[Tie], titles: dict[str, str]) -> list[Tie]:
    """One line to each check in which any cause of the area shows, as strong as the strongest."""
    found = []
    by_check: dict[str, list[float]] = {}
    for tie in ties:
        by_check.setdefault(tie.target, []).append(tie.chance or 0.0)
    for check, chances in by_check.items():
        most, least = percent(max(chances)), percent(min(chances))
        words = most if most == least else f"{least.removesuffix(' %')} to {most}"
        sentence = f"Causes of {in_sentence(title)} show in {titles[check]}: {words}."
        found.append(Tie(area, check, "shows", words, sentence, max(chances)))
    return found
