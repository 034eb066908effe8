"""`hertzwright resume`: go on with a job where it was left.

Purpose: open a job file, say what is not as it was left, and go on.
Law: nothing is cut from a damaged file before somebody was told, and what is cut is kept beside it.
Not here: the job itself (see `session`).
"""

from __future__ import annotations

import argparse
import sys

from ...engine import HeldError, HertzwrightError, Job, JobError, Knowledge
from ...engine.job import current
from ...engine.problems import printable, quoted
from ...engine.readings import UNKNOWN_WORDS
from ..files import add_features, done_before_given, features_given, journal, stands_given, store, without_given
from ..record import CLOSINGS, held
from ..terminal import Screen, Stop, prompts
from . import proof_run, putting_back, setting_options, steps, view
from .session import Session

_INSTEAD = (
    "give --record ID=ANSWER, --carry-out REMEDY=RESULT, --put-back FITTING, --set KEY=VALUE, --secured NAME, "
    "--note TEXT or --take-back, or --show to look only"
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "job", nargs="?", metavar="JOB", help="id of the job, such as 2026-11-25-a (default: the latest)"
    )
    parser.add_argument(
        "--show", action="store_true", help="print where the job stands and what is next, and ask nothing"
    )
    parser.add_argument(
        "--record", metavar="ID=ANSWER", action="append", default=[], help="record an answer, ask nothing"
    )
    parser.add_argument(
        "--carry-out", metavar="REMEDY=RESULT", action="append", default=[], help="record a remedy, ask nothing"
    )
    add_features(parser, "correct a feature of the set")
    parser.add_argument(
        "--secured",
        metavar="NAME",
        help="who says that the set is shut down and its throttle proven to close: ends the hold after a danger",
    )
    parser.add_argument(
        "--put-back", metavar="FITTING", action="append", default=[],
        help="what is off is back on and its question answered with yes; all for all of it; ask nothing",
    )  # fmt: skip
    parser.add_argument(
        "--was-off", metavar="FITTING", action="append", default=[], help="it was off already as found; ask nothing"
    )
    parser.add_argument("--stands", metavar="HOW", help="how the set stands now: cold, running, warm or apart")
    parser.add_argument(
        "--without", metavar="TOOL", action="append", default=[],
        help="a tool that is not there today, or load for leave to load the set; ask nothing",
    )  # fmt: skip
    parser.add_argument(
        "--with", metavar="TOOL", action="append", default=[], dest="come", help="it has come after all; ask nothing"
    )
    parser.add_argument(
        "--before", metavar="ID", action="append", default=[],
        help="a remedy, or a check with =ANSWER, that somebody did before you came; ask nothing",
    )  # fmt: skip
    parser.add_argument(
        "--set-in-order", action="store_true", help="set everything in order from the ground up from here on"
    )
    parser.add_argument(
        "--turned", metavar="ADJUSTER=TURNS", action="append", default=[],
        help="what was turned for the step of setting that is next, such as speed=+1.5; ask nothing",
    )  # fmt: skip
    parser.add_argument(
        "--set-to", metavar="STEP=WHERE", action="append", default=[],
        help="a step of setting that was put to its start or done, and where; ask nothing",
    )  # fmt: skip
    parser.add_argument("--no-response", metavar="STEP", help="a step of setting that does not respond; ask nothing")
    parser.add_argument("--note", metavar="TEXT", help="add a note, ask nothing")
    parser.add_argument("--take-back", action="store_true", help="take back the last answer, ask nothing")
    parser.add_argument(
        "--mistake", action="store_true", help="with --take-back: it never was so; a dangerous reading holds otherwise"
    )
    parser.add_argument("--accept-damage", action="store_true", help="go on with the readable part of a damaged file")
    store.add_folder(parser)
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    with Screen(arguments.plain) as screen:
        return _run(arguments, screen)


def _run(arguments: argparse.Namespace, screen: Screen) -> int:
    folder = store.jobs_folder(arguments.folder)
    path = journal.latest(folder) if arguments.job is None else journal.find(arguments.job, folder)
    silent = bool(
        arguments.show or arguments.record or arguments.carry_out or arguments.note is not None or arguments.take_back
        or arguments.features or arguments.secured is not None
        or arguments.put_back or arguments.was_off or arguments.stands is not None
        or arguments.without or arguments.come or arguments.before
        or arguments.set_in_order or arguments.turned or arguments.set_to or arguments.no_response is not None
    )  # fmt: skip
    if arguments.mistake and not arguments.take_back:
        raise JobError("--mistake says of what --take-back takes back that it never was so; give both")
    record = journal.read(path)
    asker = None if silent else prompts.terminal(arguments.plain, _INSTEAD, screen)
    if record.damage and not _goes_on(record, asker, screen, arguments.accept_damage or arguments.show):
        return 1
    job = _replayed(store.knowledge(arguments.knowledge), record)
    if arguments.show:
        return _say(Session(job, None, screen, prompts.PlainAsker()), record.head.set)
    file, record = journal.Journal.reopen(path)
    with file:
        session = Session(job, file, screen, asker or prompts.PlainAsker())
        if asker is None:
            try:
                _apply(session, arguments)
            except HeldError as error:
                raise HeldError(f"{error}, by: hertzwright resume {file.ident} --secured NAME") from None
            return _say(session, record.head.set)
        held.say(screen, job)
        screen.heading(f"Job {file.ident}: {record.head.set}")
        if job.closed:
            try:
                asked = f"It was {CLOSINGS[job.closed]}. Open it again?"
                if not prompts.confirm(asker, screen, asked, "yes", "no"):
                    return 0
                job.reopen()
                session.keep()
            except Stop:
                return 0
        return steps.run(session)


def by_id(ident: str, given: argparse.Namespace) -> argparse.Namespace:
    """The arguments of this command for a job, with where it is kept as another command was given it."""
    parser = argparse.ArgumentParser()
    add_arguments(parser)
    arguments = parser.parse_args([ident])
    for name in ("folder", "knowledge", "plain"):
        setattr(arguments, name, getattr(given, name))
    return arguments


def _goes_on(record: journal.JobFileContent, asker: prompts.Asker | None, screen: Screen, accepted: bool) -> bool:
    """Say what is damaged; whether to go on with what can be read. Raises JobError where nobody can be asked."""
    print(record.damage, file=sys.stderr)
    if record.torn or accepted:
        return True
    if asker is None:
        raise JobError("give --accept-damage to go on with the readable part; the damaged file is kept beside it")
    question = f"Go on with the {len(record.entries)} events that can be read? The damaged file is kept beside it."
    return prompts.confirm(asker, screen, question, "go on", "stop")


def _replayed(knowledge: Knowledge, record: journal.JobFileContent) -> Job:
    """The job of a file, with what differs since it was made said. Raises JobError."""
    if record.head.knowledge != knowledge.fingerprint:
        said = (
            f"made with other knowledge ({record.head.knowledge[:8]})" if record.head.knowledge else "of unknown origin"
        )
        print(f"This job was {said}; with this ({knowledge.fingerprint[:8]}) figures may differ.", file=sys.stderr)
    try:
        events, renamed = current(knowledge, record.events)
        job = Job.replay(knowledge, events)
    except HertzwrightError as error:
        raise JobError(
            f"{record.path}: this knowledge cannot take the job: {error}; try --knowledge with the one it was made with"
        ) from None
    for said in renamed:
        print(printable(f"Since this job, {said}."), file=sys.stderr)
    return job


def _apply(session: Session, arguments: argparse.Namespace) -> None:
    """What the options say, in the order: take back, secured, correct, how it stands, not here, done before, was off,
    record, carry out, setting, put back, note.

    What one command says was found before it was given, so a danger in it does not keep the rest of it out.
    Before a step that needs something on, what the options say is back on is put back; else it is refused.
    """
    back = putting_back.known(session, "--put-back", arguments.put_back)
    was_off = putting_back.known(session, "--was-off", arguments.was_off)
    if arguments.take_back and session.back(arguments.mistake) is None:
        raise JobError("there is nothing to take back")
    if arguments.secured is not None:
        session.secure(arguments.secured)
    if arguments.features:
        session.job.correct(features_given(session.knowledge, arguments.features))
        session.keep()
    if arguments.stands is not None:
        stands_given(session.job, arguments.stands)
        session.keep()
    without_given(session.job, arguments.without)
    for tool in arguments.come:
        session.job.has_come(tool)
    done_before_given(session.job, arguments.before)
    session.keep()
    happened = not session.job.held
    for fitting in was_off:
        session.take_off(fitting, as_found=True)
    used: set[str] = set()
    for option, pairs in (("--record", arguments.record), ("--carry-out", arguments.carry_out)):
        for pair in pairs:
            name, equals, answer = pair.partition("=")
            if not equals:
                raise JobError(
                    f"{option} {quoted(pair)}: expected {'ID=ANSWER' if option == '--record' else 'REMEDY=RESULT'}"
                )
            kind = "check" if option == "--record" else "remedy"
            known = session.job.checks if kind == "check" else session.knowledge.remedies
            # What must not run at all is refused for that, before anything is said of what is off.
            says = kind == "remedy" or answer.strip().lower() not in UNKNOWN_WORDS
            if not session.job.held and name.strip() in known and says:
                first = session.job.to_put_back(kind, name.strip())
                putting_back.without_asking(session, first, name.strip(), back)
                used.update(first)
            if option == "--record":
                session.record(name.strip(), answer.strip(), happened)
            else:
                session.carry_out(name.strip(), answer.strip(), happened)
    setting_options.apply(
        session, arguments.set_in_order, arguments.turned, arguments.set_to, arguments.no_response, back, used
    )
    for each in session.job.off:
        if each.fitting in back or putting_back.ALL in back:
            session.put_back(each.fitting)
            used.add(each.fitting)
    if unused := [name for name in back if name not in used and name != putting_back.ALL]:
        raise JobError(f"--put-back {unused[0]}: it is not off")
    if arguments.note is not None:
        session.note(arguments.note)


def _say(session: Session, name: str) -> int:
    held.say(session.screen, session.job)
    session.screen.line(f"Set: {name}")
    if session.job.setting:
        setting_options.say_next(session)
        return 0
    step = session.steps()[0]
    view.show_state(session)
    back = [session.knowledge.catalogue.fittings[name].question for name in step.put_back]
    session.screen.fact("Next", f"{session.title(step)}. {step.why}")
    session.screen.fact("Before it", " ".join(back))
    if step.kind == "done":
        proof_run.say_outside(session)
        proof_run.say_beside(session)
    return 0
