"""What people type whatever is asked: sentences about the visit, and words that say little.

Purpose: the part `typed` of phrases.yaml, as frozen values: which sentence is which command, what means "not known",
what means "as it should be", and what may stand beside an answer without changing it.
Law: pure; text is compared in small letters, without apostrophes and stops.
Not here: how a sentence is matched (see the engine's `readings.told`), what a command does.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from ..problems import Problem, quoted
from . import reference
from .entries import Entries, Entry, listed_names, pairs, strings, table, text, value
from .source import MappingNode, ScalarNode

SLOTS = ("thing", "rest", "tool")
"""What a sentence may leave open: up to five words, any words, or the name of a tool."""
SLOT = re.compile(r"\{(\w+)\}")


@dataclass(frozen=True, slots=True)
class Sentence:
    """Ways to say one thing about the visit. command: off, without, come, before or order. of: the tool that it is
    about, where the sentence itself says so. said: each with parts in braces and what may be missing in brackets.
    holds: parts that a sentence has somewhere where it is none of these, and never: those that it has not."""

    id: str
    command: str
    of: str
    said: tuple[str, ...]
    holds: tuple[str, ...] = ()
    never: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Typed:
    """What is typed whatever is asked. parts: name -> words for it. not_known, right: whole answers. beside: words
    beside an answer that say nothing of their own; near: those that say so of a figure alone. fillers: words before or
    after a sentence. spelled: (word, how else it is written). anywhere: words that only strengthen an answer, wherever
    they stand in one that denies nothing. somewhat: words by which an answer out of limits is one still."""

    parts: tuple[tuple[str, tuple[str, ...]], ...] = ()
    sentences: tuple[Sentence, ...] = ()
    not_known: tuple[str, ...] = ()
    right: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    near: tuple[str, ...] = ()
    fillers: tuple[str, ...] = ()
    spelled: tuple[tuple[str, tuple[str, ...]], ...] = ()
    anywhere: tuple[str, ...] = ()
    somewhat: tuple[str, ...] = ()


def spoken(text: str) -> str:
    """Text as it is compared: small letters, no apostrophes, stops as blanks."""
    return " ".join(re.sub(r"[^\w/.%+-]|(?<!\d)\.|\.(?!\d)", " ", re.sub(r"['\u2019`]", "", text.lower())).split())


def typed_of(tops: tuple[MappingNode, ...]) -> Typed:
    """What the files say of it; nothing where they say nothing."""
    for top in tops:
        given = table(top, "typed")
        if not given.values:
            continue
        parts, sentences = table(given, "parts"), table(given, "sentences")
        return Typed(
            tuple((key.value, tuple(map(spoken, listed_names(parts, key.value)))) for key, _ in pairs(parts)),
            tuple(
                Sentence(
                    key.value,
                    value(node, "command"),
                    value(node, "of"),
                    listed_names(node, "said"),
                    listed_names(node, "holds"),
                    listed_names(node, "never"),
                )
                for key, node in pairs(sentences)
                if isinstance(node, MappingNode)
            ),
            tuple(map(spoken, listed_names(given, "not_known"))),
            tuple(map(spoken, listed_names(given, "right"))),
            tuple(map(spoken, listed_names(given, "beside"))),
            tuple(map(spoken, listed_names(given, "near"))),
            tuple(map(spoken, listed_names(given, "fillers"))),
            tuple(
                (key.value, tuple(map(spoken, listed_names(table(given, "spelled"), key.value))))
                for key, _ in pairs(table(given, "spelled"))
            ),
            tuple(map(spoken, listed_names(given, "anywhere"))),
            tuple(map(spoken, listed_names(given, "somewhat"))),
        )
    return Typed()


def references(entries: Entries) -> Iterator[Problem]:
    """The parts and tools that a sentence names."""
    for page, top in entries.tops["phrases"]:
        given = table(top, "typed")
        parts = [*SLOTS, *table(given, "parts").values]
        for key, node in pairs(table(given, "sentences")):
            if not isinstance(node, MappingNode):
                continue
            entry = Entry("phrases", page.file, key, node)
            yield from reference.of_name(entries, entry, text(node, "of"), "tools")
            for said in strings(node, "said"):
                yield from _of_parts(entry, said, SLOT.findall(said.value), parts)
            for name in (*strings(node, "holds"), *strings(node, "never")):
                yield from _of_parts(entry, name, [name.value], parts)


def _of_parts(entry: Entry, at: ScalarNode, names: list[str], parts: list[str]) -> Iterator[Problem]:
    for name in names:
        if name not in parts:
            what = f"no part of a sentence named {quoted(name)}"
            yield entry.problem("K031", what, reference.close_to(name, parts, reference.among(parts)), at)
