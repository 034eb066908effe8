"""`hertzwright start`: which set, the cautions, the complaint, and then the job.

Purpose: get from nothing to the first proposal in a handful of keys, or in none, by options.
Law: a job file exists before the first question about the set's trouble.
Not here: what is asked of the set (see `set_prompt`), the job itself (see `session`).
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path

from ...engine import AnswerError, HertzwrightError, Job, Knowledge
from ...engine.job import assumed_of, features_of, standing_of
from ...engine.problems import close_to, quoted
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
    store,
    without_given,
)
from ..record import held, history
from ..terminal import Asker, Back, Screen, Stop, prompts
from . import open_jobs, resume, safety, setting, setting_options, steps
from .rating import RATING
from .session import Session
from .set_prompt import ask_name, asked_job

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
        name = arguments.name or (ask_name(asker, screen, known) if asker else "set")
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
        job = asked_job(None if silent else asker, screen, knowledge, features, tolerance, new, stands)
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
