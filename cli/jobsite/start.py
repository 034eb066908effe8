"""`hertzwright start`: which set, the cautions, the complaint, and then the job.

Purpose: get from nothing to the first proposal in a handful of keys, or in none, by options.
Law: a job file exists before the first question about the set's trouble.
Not here: the job itself (see `session`).
"""

from __future__ import annotations

import argparse
from collections.abc import Collection, Mapping, Sequence
from contextlib import suppress
from functools import partial
from pathlib import Path

from ...engine import AnswerError, HertzwrightError, Job, Knowledge
from ...engine.compiler import spoken
from ...engine.job import assumed_of, features_of, standing_of
from ...engine.problems import close_to, in_sentence, listed, quoted
from ...engine.readings import heard_as, set_words, yes_or_no
from ..files import (
    FactsFile,
    UsageError,
    add_features,
    done_before_given,
    features_given,
    job_of,
    journal,
    read_facts,
    record_absent,
    record_fact,
    stands_given,
    store,
    without_given,
)
from ..record import held, history
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
    prompts,
)
from . import open_jobs, resume, safety, setting, setting_options, steps
from .rating import RATING
from .session import Session

_INSTEAD = (
    "give --name NAME --acknowledge and --complaint ID, --from FILE or --set-in-order, and the job is kept with its "
    "first proposal; "
    "or use: hertzwright rank FILE"
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--name", metavar="NAME", help="name of the set; one that is known brings its features along")
    add_features(parser, "a feature, such as booster=none")
    parser.add_argument("--from", metavar="FILE", dest="source", help="take set and facts from a YAML or JSON file")
    parser.add_argument("--tolerance", metavar="NAME", help="tolerance set (default: default)")
    parser.add_argument(
        "--set-in-order", action="store_true", help="nothing is wrong: set everything in order from the ground up"
    )
    parser.add_argument("--complaint", metavar="ID", action="append", default=[], help="a complaint, by its id")
    parser.add_argument(
        "--acknowledge", action="store_true", help="the cautions are read: local codes and licensed practice come first"
    )
    parser.add_argument("--stands", metavar="HOW", help="how the set stands: cold, running, warm or apart")
    parser.add_argument(
        "--without", metavar="TOOL", action="append", default=[], help="a tool that is not there today, or load"
    )
    parser.add_argument(
        "--before", metavar="ID", action="append", default=[],
        help="a remedy, or a check with =ANSWER, that somebody did before you came",
    )  # fmt: skip
    store.add_folder(parser)
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    with Screen(arguments.plain) as screen:
        return _run(arguments, screen)


def _run(arguments: argparse.Namespace, screen: Screen) -> int:
    silent = bool(arguments.acknowledge and (arguments.complaint or arguments.source or arguments.set_in_order))
    asker = _asker(arguments, silent, screen)
    while True:
        try:
            return _described(arguments, screen, asker, silent)
        except Back:
            if arguments.name:
                screen.problem("There is nothing before this.")


def _described(arguments: argparse.Namespace, screen: Screen, asker: Asker | None, silent: bool) -> int:
    """Which set it is and how it stands, then the job. Raises Back at the first question after its name."""
    folder = store.jobs_folder(arguments.folder)
    facts = read_facts(arguments.source) if arguments.source else None
    known = known_sets(folder)
    try:
        name = arguments.name or (_ask_name(asker, screen, known) if asker else "set")
        on = open_jobs.offer(None if silent else asker, screen, folder, name)
    except Stop:
        return 0
    if on is not None:
        screen.leave()
        return resume.run(resume.by_id(on, arguments))
    knowledge = store.knowledge(arguments.knowledge)
    given = features_given(knowledge, arguments.features)
    tolerance = arguments.tolerance or (facts.tolerance if facts else "") or "default"
    knowledge.tolerance(tolerance)
    for complaint in arguments.complaint:
        if complaint not in knowledge.complaints:
            hint = close_to(complaint, knowledge.complaints, f"known are {', '.join(knowledge.complaints)}")
            raise UsageError(f"no complaint {quoted(complaint)}; {hint}")
    features = {**_usable(knowledge, known.get(name, {})), **(facts.features if facts else {}), **given}
    if facts:
        # Tried before a job file is made, so that a wrong fact leaves nothing behind.
        whole = FactsFile(
            facts.file,
            {key: str(value) for key, value in features.items()},
            _lines(facts, features),
            facts.facts,
            tolerance,
            facts.stands,
            facts.setting,
            facts.without,
        )
        given_rating = RATING in features
        features = dict(job_of(knowledge, whole).features)
        if not given_rating:
            features.pop(RATING, None)
    new = name not in known and not (facts or given)
    stands = arguments.stands or (facts.stands if facts else "")
    try:
        job = _asked(None if silent else asker, screen, knowledge, features, tolerance, new, stands)
    except Stop:
        return 0
    without_given(job, arguments.without)
    done_before_given(job, arguments.before)
    if facts:
        record_absent(job, facts)
    return _begin(arguments, screen, asker, job, facts, folder, name)


def _begin(
    arguments: argparse.Namespace,
    screen: Screen,
    asker: Asker | None,
    job: Job,
    facts: FactsFile | None,
    folder: Path,
    name: str,
) -> int:
    with journal.Journal.create(folder, job.knowledge.fingerprint, name) as file:
        file.sync(job.events)
        session = Session(job, file, screen, asker or prompts.PlainAsker())
        try:
            if arguments.acknowledge:
                session.acknowledge("job", "the cautions of the job, by option; local codes come first.")
            else:
                safety.opening(session)
            earlier = history.last(job.knowledge, folder, name, file.path)
            if earlier is not None:
                history.show_left(screen, job.knowledge, earlier)
            for fact in facts.facts if facts else ():
                record_fact(job, fact, facts.file if facts else "")
            session.keep()
            for complaint in arguments.complaint:
                session.record(complaint, "present")
            if arguments.set_in_order or (facts and facts.setting):
                setting.begin(session)
        except Stop:
            screen.line(f"Kept as job {file.ident}.")
            return 0
        if asker is None:
            return _only_say(session, file)
        status = steps.run(session)
        if earlier is not None:
            history.show_moved(screen, job.knowledge, history.since(job.knowledge, earlier, job))
        return status


def _asker(arguments: argparse.Namespace, silent: bool, screen: Screen) -> Asker | None:
    """The terminal; None where there is none and the options say everything."""
    try:
        return prompts.terminal(arguments.plain, _INSTEAD, screen)
    except prompts.NoTerminalError:
        if silent:
            return None
        raise


def _only_say(session: Session, file: journal.Journal) -> int:
    """Without a terminal: the job is kept, and the first proposal printed."""
    from . import view

    held.say(session.screen, session.job)
    session.screen.line(f"Kept as job {file.ident}.")
    if session.job.setting:
        setting_options.say_next(session)
        return 0
    step = session.steps()[0]
    view.show_state(session)
    session.screen.fact("Next", f"{session.title(step)}. {step.why}")
    return 0


def _lines(facts: FactsFile, features: Mapping[str, object]) -> dict[str, int]:
    return {name: facts.lines.get(name, 1) for name in (*features, "stands")}


def known_sets(folder: Path) -> dict[str, dict[str, object]]:
    """Sets of earlier jobs: name -> features as last given."""
    found: dict[str, dict[str, object]] = {}
    for path in journal.listed(folder):
        try:
            record = journal.read(path)
        except HertzwrightError:
            continue
        if record.events and record.events[0].kind == "set":
            found.pop(record.head.set, None)
            standing = standing_of(record.events)
            assumed = assumed_of(standing)
            found[record.head.set] = {
                name: value for name, value in features_of(standing).items() if name not in assumed
            }
    return found


def _usable(knowledge: Knowledge, features: Mapping[str, object]) -> dict[str, object]:
    """Features of an earlier job that this knowledge still takes."""
    taken: dict[str, object] = {}
    for name, value in features.items():
        try:
            knowledge.features({name: value})
        except AnswerError:
            continue
        taken[name] = value
    return taken


def _asked(
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
            _ask_stands(asker, screen, job)
            return job
        except Back:
            if not new:
                raise


def _ask_name(asker: Asker, screen: Screen, known: Mapping[str, object]) -> str:
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


def _ask_stands(asker: Asker, screen: Screen, job: Job) -> None:
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
