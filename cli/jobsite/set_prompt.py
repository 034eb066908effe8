"""Which set it is and how it stands, asked at the terminal.

Purpose: the name, the features and the standing of a set, in a handful of keys or in a line of words.
Law: what nobody said stands at its default and is told as assumed where it counts; z goes to the question before.
Not here: sets known from earlier jobs, and the job that begins (see `start`).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from contextlib import suppress
from functools import partial

from ...engine import AnswerError, Job, Knowledge
from ...engine.compiler import spoken
from ...engine.problems import in_sentence, listed
from ...engine.readings import heard_as, set_words, yes_or_no
from ..files import journal, stands_given
from ..terminal import (
    BACK_WORDS,
    HELP_WORDS,
    STOP_WORDS,
    Asker,
    Back,
    Choice,
    Page,
    Screen,
    Stop,
    choose,
    choose_several,
    position,
    present,
)
from .rating import RATING


def ask_name(asker: Asker, screen: Screen, known: Mapping[str, object]) -> str:
    """The name of the set: a known one by its number, or a new one."""
    latest = list(known)[:-7:-1]
    screen.heading("Which set is it?")
    if latest:
        screen.options((str(number), name) for number, name in enumerate(latest, 1))
        screen.note("A number, or a name for a new set.")
    else:
        screen.note("A name you will know it by, such as where it stands. Enter: set")
    while True:
        given = asker.ask("> ", latest)
        if given.lower() in STOP_WORDS:
            raise Stop
        if given.lower() in HELP_WORDS:
            screen.note("The name is kept with the job, so that the set is found again. x stops, and nothing is kept.")
            continue
        if given.lower() in BACK_WORDS:
            screen.problem(f'"{given}": there is nothing before this to go back to; x stops')
            continue
        if given.isdecimal() and 1 <= int(given[:9]) <= len(latest):
            return latest[int(given) - 1]
        if given or not latest:
            return journal.clean_name(given or "set")
        screen.problem("expected a number or a name")


def ask_stands(asker: Asker, screen: Screen, job: Job) -> None:
    """How the set stands: by its number, by Enter, or in other words for it."""
    costs = job.knowledge.catalogue.costs
    found = list(costs.found.values())
    if not found:
        return
    usual = next((at for at, each in enumerate(found) if each.state == costs.start_state), None)
    words = {word: at for at, each in enumerate(found) for word in each.names}
    titles = [each.title for each in found]
    heard = partial(heard_as, job.knowledge.catalogue.typed)
    at = choose(asker, screen, "How does it stand now?", titles, usual, words, True, heard)
    job.stands(found[at].id)


def ask_features(
    asker: Asker, screen: Screen, knowledge: Knowledge, features: Mapping[str, object]
) -> dict[str, object]:
    """The features of a new set: all defaults at once, or one after another. Without the rated power where nobody said
    it: it follows from nothing, and is asked again when it counts."""
    found = dict(knowledge.features(features))
    said = {*features}
    screen.heading("The set")
    screen.line(described(knowledge, found, said))
    ways = ("all right", "change some of it", "ask me everything")
    at = _said_in_a_line(asker, screen, knowledge, found, ways, said)
    if at == 0:
        return _without_assumed(found, said)
    catalogue = knowledge.catalogue.features
    try:
        if at == 2:
            _ask_each(asker, screen, knowledge, found, said)
            return _without_assumed(found, said)
        while True:
            names = list(catalogue)
            rows = [f"{catalogue[name].title}: {feature_text(knowledge, name, found[name])}" for name in names]
            which = choose_several(asker, screen, "", [*rows, "all right now"], len(names), len(names), back=True)
            if which == (len(names),):
                return _without_assumed(found, said)
            for name in (names[at] for at in which):
                with suppress(Back):
                    found[name] = _ask_feature(asker, screen, knowledge, name, found[name], said)
    except Back:
        return ask_features(asker, screen, knowledge, _without_assumed(found, said))


def _without_assumed(found: Mapping[str, object], said: Collection[str]) -> dict[str, object]:
    return {name: value for name, value in found.items() if name in said or name != RATING}


def _said_in_a_line(
    asker: Asker, screen: Screen, knowledge: Knowledge, found: dict[str, str | float], ways: Sequence[str],
    said: set[str],
) -> int:  # fmt: skip
    """The way that is taken, after what was said of the set in a line, as often as that is. Raises Back or Stop."""
    choices = tuple(Choice(str(at), text + (" (Enter)" if at == 1 else "")) for at, text in enumerate(ways, 1))
    page = Page(
        question="Is that right?", choices=choices, words=tuple(ways), commands=frozenset((*STOP_WORDS, *BACK_WORDS)),
        form="or in a line what is otherwise: no booster, manual choke, 5 kW", at_once=True,
    )  # fmt: skip
    again = False
    while True:
        given = present(asker, screen, page, again)
        again = True
        if (at := position(given, ways, 0)) is not None or yes_or_no(given):
            return at or 0
        if given.lower() in STOP_WORDS:
            raise Stop
        if given.lower() in BACK_WORDS:
            raise Back
        if given.lower() in HELP_WORDS:
            screen.note("Enter or 1 where all of it is so; else say what is otherwise in a line. z goes back, x stops.")
            continue
        changed: dict[str, str | float] = {}
        for word in set_words(given, knowledge.catalogue.features):
            if not word.may_be:
                screen.problem(f'"{word.said}": not understood as a feature of a set')
                continue
            rows = [_feature_told(knowledge, *each) for each in word.may_be]
            at = choose(asker, screen, f'"{word.said}" means:', rows, back=True) if len(rows) > 1 else 0
            changed.update(word.may_be[at : at + 1])
        if changed:
            found.update(changed)
            said.update(changed)
            told = "; ".join(_feature_told(knowledge, name, value) for name, value in changed.items())
            screen.line(f"Understood: {told}.", "green")
            screen.line(described(knowledge, found, said))
            again = False


def _feature_told(knowledge: Knowledge, name: str, value: str | float) -> str:
    return f"{in_sentence(knowledge.catalogue.features[name].title)} {feature_text(knowledge, name, value)}"


def _ask_each(
    asker: Asker, screen: Screen, knowledge: Knowledge, found: dict[str, str | float], said: set[str]
) -> None:
    """Every feature in a row; z goes to the one before. Raises Back at the first."""
    names, at = list(knowledge.catalogue.features), 0
    while at < len(names):
        try:
            found[names[at]] = _ask_feature(asker, screen, knowledge, names[at], found[names[at]], said)
            at += 1
        except Back:
            if at == 0:
                raise
            at -= 1


def _ask_feature(
    asker: Asker, screen: Screen, knowledge: Knowledge, name: str, now: str | float, told: set[str]
) -> str | float:
    """The value of a feature. told: those that were said, to which this one is added unless it is left."""
    feature = knowledge.catalogue.features[name]
    screen.line()
    if feature.choices and feature.kind == "choice":
        words = [choice.replace("_", " ") for choice in feature.choices]
        current = next((at for at, choice in enumerate(feature.choices) if choice == now), 0)
        typed = knowledge.catalogue.typed
        unknown = dict.fromkeys(typed.not_known, current)
        at = choose(asker, screen, feature.ask, words, current, unknown, True, partial(heard_as, typed))
        return knowledge.features({name: feature.choices[at]})[name]
    # A list of numbers is not numbered: 2 is two poles, not the second answer.
    ways = f" {listed(feature.choices)}." if feature.choices else ""
    screen.line(f"{feature.ask}{ways} Enter: {feature_text(knowledge, name, now)}")
    while True:
        given = asker.ask("> ")
        if given.lower() in BACK_WORDS:
            raise Back
        if given.lower() in STOP_WORDS:
            raise Stop
        if given.lower() in HELP_WORDS:
            screen.note(f"{feature.brief or feature.ask} Enter leaves it. z goes back, x stops.")
            continue
        given = "" if spoken(given) in knowledge.catalogue.typed.not_known else given
        if not given:
            return now
        try:
            value = knowledge.features({name: given})[name]
            told.add(name)
            return value
        except AnswerError as error:
            screen.problem(str(error))


def feature_text(knowledge: Knowledge, name: str, value: str | float) -> str:
    """A feature's value with its unit."""
    unit = knowledge.catalogue.features[name].unit
    text = value.replace("_", " ") if isinstance(value, str) else f"{value:g}"
    return f"{text} {unit}".strip()


def described(knowledge: Knowledge, features: Mapping[str, str | float], said: Collection[str] = (RATING,)) -> str:
    """All features in one sentence; said: those that somebody said, without which the rated power is assumed."""
    catalogue = knowledge.catalogue.features
    return (
        "; ".join(
            f"{catalogue[name].title.lower()} {feature_text(knowledge, name, features[name])}"
            + (", assumed" if name == RATING and name not in said else "")
            for name in catalogue
        )
        + "."
    )


def asked_job(
    asker: Asker | None, screen: Screen, knowledge: Knowledge, features: dict[str, object], tolerance: str, new: bool,
    stands: str,
) -> Job:  # fmt: skip
    """The job of a set as it is described and as it stands. Raises Back at the first question, and Stop."""
    while True:
        found = ask_features(asker, screen, knowledge, features) if asker and new else features
        job = Job(knowledge, found, tolerance, () if RATING in found else (RATING,))
        if stands:
            stands_given(job, stands)
            return job
        if asker is None:
            return job
        try:
            ask_stands(asker, screen, job)
            return job
        except Back:
            if not new:
                raise
