"""A case made of a job: what was found, in its order, and what it came to, with nothing of whom it was at.

Purpose: find the job that is meant, and write its facts as a case has them, up to the remedy that mended the set.
Law: only ids and values of the knowledge come out: features, complaints, readings in the unit of their check, outcomes,
results. No name of a set, no note, no address, no hour, nothing that was typed. What a case cannot hold is counted.
Not here: the lines of a case (see `skeleton`), where they go (see `new`).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from ...engine import Event, HertzwrightError, Job, Knowledge
from ...engine.job import current, standing_of
from ...engine.problems import in_sentence, percent, printable
from ...engine.review import SURE
from ..files import export, job_of, journal, read_facts, store
from ..record import state
from .skeleton import flow

_FACTS = (".yaml", ".yml")
_READING = re.compile(r"-?\d+(\.\d+)? [A-Za-z]+")
_LEFT_OUT = {
    "note": "note",
    "load_reading": "reading of a load test",
    "before": "thing done before the visit",
    "set_to": "setting that was turned",
}


class JobCaseError(HertzwrightError):
    """A job of which no case can be made."""


@dataclass(frozen=True, slots=True)
class JobCase:
    """Keys of a case with what stands under each, one line or more of YAML. `left_out`: what a case cannot hold."""

    given: dict[str, str]
    truth: tuple[str, ...]
    left_out: tuple[str, ...]


def events_of(name: str, knowledge: Knowledge, folder: str | None) -> tuple[Event, ...]:
    """The events of the job that is meant: a job kept here by its id, a job file, a file of one exported job, or a file
    of facts. Raises JobCaseError, or what reading it raises."""
    path = Path(name)
    if journal.is_ident(name) and not path.exists():
        return tuple(journal.read(journal.find(name, store.jobs_folder(folder))).events)
    if not path.is_file():
        raise JobCaseError(f"{printable(name)}: no job kept here, no job file, no exported job and no file of facts")
    if path.suffix in _FACTS:
        return _told(name, knowledge)
    if path.suffix != ".json":
        return tuple(journal.read(path).events)
    with TemporaryDirectory() as room:
        try:
            jobs = export.unpacked(name)
        except export.ExchangeError as error:
            if "not a file of jobs; expected" in str(error):  # JSON of another kind: facts may come as JSON too
                return _told(name, knowledge)
            raise
        if len(jobs) > 1:
            listed = ", ".join(ident for ident, _ in jobs[:5])
            raise JobCaseError(
                f"{printable(name)}: holds {len(jobs)} jobs ({listed}); a case is of one: export that one"
            )
        (Path(room) / f"{jobs[0][0]}.jsonl").write_bytes(jobs[0][1])
        return tuple(journal.read(Path(room) / f"{jobs[0][0]}.jsonl").events)


def _told(name: str, knowledge: Knowledge) -> tuple[Event, ...]:
    return job_of(knowledge, read_facts(name)).events


def job_case(knowledge: Knowledge, events: Sequence[Event], causes: Sequence[str]) -> JobCase:
    """The case of a job. causes: what was truly wrong; empty takes what the job itself proved.

    Raises JobCaseError where the job tells no fact, or not what was wrong and nobody says.
    """
    listed, renamed = current(knowledge, events)
    job = Job.replay(knowledge, listed)
    truth = tuple(causes) or _proven(knowledge, job)
    facts, later = _facts(job)
    if not facts:
        raise JobCaseError("this job has no complaint, check or remedy that a case could be made of")
    rows = [f"      - {{{', '.join(f'{key}: {_plain(value)}' for key, value in fact.items())}}}" for fact in facts]
    known = knowledge.features({})
    own = {name: _shown(value) for name, value in job.features.items() if known.get(name) != value}
    given = {
        "title": flow(_title(knowledge, facts, truth)),
        "facts": "\n" + "\n".join(rows),
        "truth": flow(list(truth)),
        "leading": flow(list(truth)),
        "within_first": str(len(truth)),
        "at_least": '"0.5"',
        "sources": "[from memory]",
    }
    if own:
        given["set"] = "{" + ", ".join(f"{name}: {flow(value)}" for name, value in own.items()) + "}"
    left = Counter(_LEFT_OUT[event.kind] for event in job.standing if event.kind in _LEFT_OUT)
    told = [f"{times} {what}{'' if times == 1 else 's'}" for what, times in left.items()]
    unsure = sum(not made.answer.sure and not made.derived for made in job.made)
    told += [f"{unsure} answer{'' if unsure == 1 else 's'} that nobody was sure of"] if unsure else []
    told += [f"{later} fact{'' if later == 1 else 's'} after the remedy that mended it"] if later else []
    if job.tolerance != "default":
        told.append(f"the limits of {job.tolerance}: readings are judged by the default ones")
    return JobCase(given, truth, (*told, *renamed))


def _proven(knowledge: Knowledge, job: Job) -> tuple[str, ...]:
    """What a job that was closed as fixed and proven turned out to be. Raises JobCaseError for any other."""
    there = job.as_found()
    found = tuple(name for name, chance in there.items() if chance >= SURE)
    if state(standing_of(job.events)) != "fixed and proven":
        raise JobCaseError(
            f"what was wrong? This job does not say, since it was not proven: --for CAUSE; {_most(there)}"
        )
    if not found:
        raise JobCaseError(f"what was wrong? This job does not tell one cause: --for CAUSE; {_most(there)}")
    return found


def _most(there: Mapping[str, float]) -> str:
    ranked = sorted(there.items(), key=lambda each: (-each[1], each[0]))[:3]
    return "by what was found: " + ", ".join(f"{name} {percent(chance)}" for name, chance in ranked)


def _facts(job: Job) -> tuple[list[dict[str, str]], int]:
    """What was found before the set was mended, and the number of facts after that."""
    standing = [event for event in job.standing if event.kind in ("complaint", "check", "remedy", "proof")]
    facts: list[dict[str, str]] = []
    since, later, mended = 0, 0, False
    for place, event in enumerate(standing):
        told = dict(_fact(job, event, standing[place + 1 :]))
        mended = mended or (event.kind == "remedy" and told.get("result") == "cured")
        if not told:
            continue
        if mended:
            later += 1
            continue
        if event.kind == "remedy":
            since = len(facts) + 1
        # What was looked at again with nothing done in between counts as it was seen last.
        facts[since:] = [each for each in facts[since:] if each.get(event.kind) != event.id]
        facts.append(told)
    return facts, max(0, later - 1)


def _fact(job: Job, event: Event, after: Sequence[Event]) -> Iterator[tuple[str, str]]:
    """A fact of a case; nothing for what says nothing there, as an answer that is not known."""
    if event.kind == "complaint" and event.answer in ("present", "absent"):
        yield from (("complaint", event.id), ("answer", event.answer))
    elif event.kind == "check":
        answer = job.understand(event.id, event.answer)
        if answer.outcomes and answer.sure:
            yield from (("check", event.id), ("answer", answer.text))
    elif event.kind == "remedy":
        result = event.answer
        proof = next((each.answer for each in after if each.kind in ("proof", "remedy")), "")
        if result == "unknown":  # what the proof run behind it says, where there is one
            result = {"passed": "cured", "failed": "not cured"}.get(proof, result)
        yield from (("remedy", event.id), ("result", result))


def _title(knowledge: Knowledge, facts: Sequence[dict[str, str]], truth: Sequence[str]) -> str:
    said = next((knowledge.complaints[each["complaint"]].title for each in facts if "complaint" in each), "A job")
    return f"{said}, and the fault was {' and '.join(in_sentence(knowledge.causes[cause].title) for cause in truth)}"


def _plain(value: str) -> str:
    """A value on one line; a single reading with its unit needs no quotes."""
    return value if _READING.fullmatch(value) else flow(value)


def _shown(value: str | float) -> str:
    return f"{value:g}" if isinstance(value, float) else value
