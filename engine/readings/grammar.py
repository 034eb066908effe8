"""What else a technician may mean at a check: a swing, several loads at once, an answer in other words.

Purpose: one grammar for what is not an answer as it stands. "60-63" is a swing with its middle, "61.5 60.8 60.1 59"
are readings at several loads, "1926" is rpm where it can be no frequency, "cracked" an outcome by its words.
Law: pure, and never an error: what has no such meaning gives none. A meaning that can hardly be another is `plain` and
counts at once; any other is said back and confirmed before it counts; where there is more than one, it is asked which.
Words that say nothing of their own, and those that mean "as it should be", are knowledge (`typed` in phrases.yaml).
Not here: an answer as it stands (see `reading`), asking.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import replace

from ..compiler import Check, Complaint, Features, Typed, spoken
from .denial import denies, denying, same_sense, unsays, words_of
from .plain import of_clauses
from .reading import read_answer
from .several_figures import FIGURE, Meaning, for_each, number_text, several, speed, spelled, swing, value_of, went
from .told import heard_as
from .word_sense import alike, sense_of, within

MOST = 6
"""Meanings offered at once."""
_ALONE = frozenset({"no", "none", "neither", "nothing"})
"""What says no by itself."""

_NOTHING = Typed()
_NOTHING_READ: Mapping[str, float] = {}


def meanings(
    check: Check,
    text: str,
    features: Features,
    checks: Mapping[str, Check],
    typed: Typed = _NOTHING,
    also_fine: Collection[str] = (),
    settled: Mapping[str, float] = _NOTHING_READ,
) -> tuple[Meaning, ...]:
    """What a text may mean that is no answer to a check as it stands; empty where nothing.

    checks: those that this set has, by id. typed: words of the knowledge that say nothing of their own, or that all is
    as it should be. also_fine: outcomes of the check beside the normal one that are within its limits. settled: the
    last settled readings, by check, from which a dip or a rise is counted.
    """
    said = " ".join(text.split())
    if check.reading is not None:
        said = spelled(said)
    if not said or len(said) > 200:
        return ()
    doubt = "?" if said.endswith("?") else ""
    if told := went(check, said.rstrip("?"), doubt, features, checks, settled):
        return told
    found: list[Meaning] = []
    words = [way + doubt for way in heard_as(typed, said.rstrip("?"))]
    figures = [way + doubt for way in heard_as(_of_figures(typed), said.rstrip("?"))] if check.reading else []
    for each in dict.fromkeys((said, *words, *figures)):
        if check.reading is not None:
            found += swing(check, each, features, checks)
            found += several(check, each, features, checks)
            found += speed(check, each, features)
            found += for_each(check, each, features)
            found = found or _reading_in_words(check, each, features, typed)
        if each == said or each in words:  # what is nearly so is not so
            found = found or _plain(_affirmed(check, each, typed, also_fine) or _in_words(check, each))
        if found:
            break
    if not found and (name := of_clauses(check, said, typed, lambda clause: _named(check, clause, typed, also_fine))):
        found = _plain([_outcome(check, check.index(name), doubt)])
    return tuple(dict.fromkeys(found or _holding(check, said, doubt, typed)))[:MOST]


def _plain(ways: list[Meaning]) -> list[Meaning]:
    """One meaning can hardly be another; where there are several, each may."""
    return [replace(way, plain=True) for way in ways] if len(ways) == 1 else ways


def _named(check: Check, clause: str, typed: Typed, also_fine: Collection[str]) -> list[str]:
    """The outcomes that a clause means by their names and briefs, or by saying that all is as it should be."""
    return [way.answers[0][1] for way in _affirmed(check, clause, typed, also_fine) or _in_words(check, clause)]


def _holding(check: Check, said: str, doubt: str, typed: Typed) -> list[Meaning]:
    """The one outcome whose name stands word for word among what was said: of "wide open" open, of "it drags" drags.
    The answers of the question itself come before those of any other."""
    words = set(re.findall(r"[a-z]+", said.lower()))
    if words.intersection(typed.near):  # what is nearly so is not so
        return []
    named = [set(outcome.id.split("_")) for outcome in check.outcomes]
    there = [
        at
        for at, each in enumerate(named)
        if each <= words
        and same_sense(said, check.outcomes[at].id.replace("_", " "))
        and not unsays(said, check.outcomes[at].brief)
    ]
    most = [at for at in there if not any(named[at] < named[other] for other in there)]
    return [_outcome(check, most[0], doubt)] if len(most) == 1 else []


def _affirmed(check: Check, said: str, typed: Typed, also_fine: Collection[str]) -> list[Meaning]:
    """The one outcome within limits, where that it is as it should be is all that was said."""
    if set(also_fine) - {check.outcomes[0].id} or not any(
        way in typed.right for way in (spoken(said.rstrip("?")), _of_subject(check, said))
    ):
        return []
    return [_outcome(check, 0, "?" if said.endswith("?") else "")]


_SUBJECT = re.compile(
    r"(?:the |that |those |these )?(?P<what>[a-z ]+?)(?:'s| is| are| looks?| seems?) (?P<rest>[a-z ]+)\??"
)


def _of_subject(check: Check, said: str) -> str:
    """What is said of the thing that a check looks at, by its title: of "oil's good" good; empty for anything else."""
    found = _SUBJECT.fullmatch(said.lower().replace("\u2019", "'"))
    if found is None or denies(said):
        return ""
    named, titled = sense_of(found["what"])[0], sense_of(check.title)[0]
    return spoken(found["rest"]) if named and within(named, titled) else ""


def _outcome(check: Check, at: int, doubt: str) -> Meaning:
    outcome = check.outcomes[at]
    brief = f": {outcome.brief}" if outcome.brief else ""
    return Meaning(((check.id, outcome.id + doubt),), f"{outcome.id.replace('_', ' ')}{brief}")


_FIGURE = re.compile(rf"(?<![\w.,/])(?P<number>{FIGURE})(?:\s*(?P<unit>[a-zA-Z\"/]+))?(?![\w/])")


def _reading_in_words(check: Check, said: str, features: Features, typed: Typed) -> list[Meaning]:
    """One figure with words about it: "about 2 Hz slowly", "a slow swing of 1 Hz", "roughly 60"."""
    bare, doubt = said.rstrip("?"), "?" if said.endswith("?") else ""
    figures = list(_FIGURE.finditer(bare))
    if len(figures) != 1 or check.reading is None:
        return []
    match = figures[0]
    number, unit = match["number"].replace(",", "."), match["unit"] or ""
    if value_of(check, number, unit, features) is None:  # the word after it is no unit
        unit, rest = "", f"{bare[: match.start()]} {bare[match.end('number') :]}"
    else:
        rest = f"{bare[: match.start()]} {bare[match.end() :]}"
    if (value := value_of(check, number, unit, features)) is None:
        return []
    answer = f"{number} {unit}".strip()
    told = f"{number_text(value)} {check.reading.unit}"
    left = spoken(rest)
    while left and (shorter := _beside(left, typed)) != left:
        left = shorter
    if not any(sense_of(left)):
        return [Meaning(((check.id, answer + doubt),), told, True)]
    kinds = {way.answers[0][1] for way in _in_words(check, left)}
    fits = read_answer(check, answer, features).outcomes
    named = [at for at, outcome in enumerate(check.outcomes) if outcome.id in kinds and outcome.id in fits]
    if len(named) != 1:
        return []
    kind = check.outcomes[named[0]].id
    return [Meaning(((check.id, f"{answer} {kind}{doubt}"),), f"{told}, {kind.replace('_', ' ')}", True)]


def figure_alone(typed: Typed, text: str) -> str:
    """A figure without the words at its ends that say nothing of their own: "63.9 or so", "about 61.7 Hz"."""
    return heard_as(replace(_of_figures(typed), fillers=(), spelled=()), text)[-1]


def _beside(left: str, typed: Typed) -> str:
    """Words without those at either end that say nothing, also where nothing else is left."""
    loose = _of_figures(typed)
    if left in loose.beside or left in loose.fillers:
        return ""
    return heard_as(loose, left)[-1]


def _of_figures(typed: Typed) -> Typed:
    """With the words that say nothing of their own beside a figure, and change what a word says."""
    return replace(typed, beside=(*typed.beside, *typed.near), near=())


# ---- an outcome in other words


def _in_words(check: Check, said: str) -> list[Meaning]:
    """Outcomes whose name or brief holds all that was said, what is denied among what is denied."""
    if any(letter.isdigit() for letter in said):
        return []
    doubt = "?" if said.endswith("?") else ""
    wanted, denied = sense_of(said)
    if not wanted and not denied:
        return _denied(check, said, doubt)
    if not denied and denies(said):  # "tight, not" denies it after all
        return []
    found = []
    for at, outcome in enumerate(check.outcomes):
        there, not_there = sense_of(f"{outcome.id.replace('_', ' ')}. {outcome.brief}")
        if outcome.id == "none":  # of what the check is about
            not_there |= sense_of(check.title)[0]
        if within(wanted, there) and within(denied, not_there) and not unsays(said, outcome.brief):
            found.append(_outcome(check, at, doubt))
    return found


def _denied(check: Check, said: str, doubt: str) -> list[Meaning]:
    """The one outcome that is a denial, where no more than a no was said: "no", "none", "neither"."""
    if not _ALONE & set(words_of(said)):
        return []
    texts = [f"{each.id.replace('_', ' ')}. {each.brief}" for each in check.outcomes]
    firsts = [at for at, text in enumerate(texts) if _begins_with_no(text)]
    return [_outcome(check, firsts[0], doubt)] if len(firsts) == 1 else []


def _begins_with_no(text: str) -> bool:
    """Whether a clause of a text begins with a denial."""
    clauses = [words_of(clause) for clause in re.split(r"[.,;:]", text)]
    return any(words[0] != "without" and denying(words[0]) for words in clauses if words)


def elsewhere(
    check: Check, text: str, checks: Mapping[str, Check], complaints: Mapping[str, Complaint], typed: Typed = _NOTHING
) -> tuple[Meaning, ...]:
    """What a text that is no answer to a check tells of other checks: their outcomes out of limits whose words, with
    those of the check or of a complaint that says just that, are all that was said. None where that is more than a few.
    """
    said = " ".join(text.split()).rstrip("?")
    if not said or len(said) > 200 or any(letter.isdigit() for letter in said):
        return ()
    doubt = "?" if text.strip().endswith("?") else ""
    for each in heard_as(typed, said):
        wanted, _ = sense_of(each)
        found = _elsewhere(check, each, checks, complaints) if wanted else []
        if found:
            return tuple(_of_other(checks[name], at, doubt) for name, at in found) if len(found) <= _FEW else ()
    return ()


_FEW = 3


def _elsewhere(
    check: Check, said: str, checks: Mapping[str, Check], complaints: Mapping[str, Complaint]
) -> list[tuple[str, int]]:
    wanted, denied = sense_of(said)
    others = {name: each for name, each in checks.items() if each is not check and each.derived_from is None}
    for complaint in complaints.values():
        says = [(name, outcome) for name, outcomes in complaint.says.items() for outcome in outcomes]
        if len(says) != 1 or says[0][0] not in others:
            continue
        for phrase in (complaint.title, *complaint.synonyms):
            there, not_there = sense_of(phrase)
            if within(wanted, there) and within(there, wanted) and within(denied, not_there):
                name, outcome = says[0]
                ids = [each.id for each in others[name].outcomes]
                return [(name, ids.index(outcome))]
    found: list[tuple[bool, str, int]] = []
    if len(wanted | denied) < 2:  # a word alone stands in too many places to say anything
        return []
    for name, each in others.items():
        title, _ = sense_of(each.title)
        for at, kind in enumerate(each.outcomes):
            called = kind.id.replace("_", " ")
            there, not_there = sense_of(f"{called}. {kind.brief}")
            if not at or not within(wanted, there | title) or not within(denied, not_there):
                continue
            # One that is called so comes before those whose brief only has the word.
            named = re.search(rf"\b{re.escape(called)}\b", said) is not None
            if named or any(alike(word, other) for word in wanted for other in there):
                found.append((named, name, at))
    best = any(named for named, _, _ in found)
    return [(name, at) for named, name, at in found if named == best]


def _of_other(check: Check, at: int, doubt: str) -> Meaning:
    way = _outcome(check, at, doubt)
    return Meaning(way.answers, f"{check.title}: {way.told}")
