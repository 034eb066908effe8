"""`hertzwright rank`: the causes for a file of facts, in a table or as JSON.

Purpose: the whole reasoning without a prompt, for scripts, tests and other programs.
Law: the same file and knowledge give the same bytes.
Not here: reading the file (see `facts`).
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping

from ...engine import ContradictionError, Job, Step
from ...engine.compiler import Check, Remedy
from ...engine.job import of_steps
from ..files import facts, store, without_given
from ..record import held
from ..terminal import Bar, Screen, minutes, percent, prompts
from . import setting_options
from .session import Session

_STEPS = 5
_SECURED = f"{held.HOW_ALONE} Then add to the facts: - {{secured: NAME}}"
_SETS = 5


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help='facts as YAML or JSON; "-" reads standard input')
    parser.add_argument(
        "--json", action="store_true", help="print JSON, every cause with what speaks for and against it"
    )
    parser.add_argument(
        "--tolerance", metavar="NAME", default="default", help="tolerance set, where the file names none"
    )
    parser.add_argument("--stands", metavar="HOW", help="how the set stands, where the file does not say")
    parser.add_argument(
        "--without", metavar="TOOL", action="append", default=[], help="a tool that is not there today, or load"
    )
    parser.add_argument("--top", metavar="N", type=int, default=10, help="how many causes the table shows (default 10)")
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    read = facts.read_facts(arguments.file)
    knowledge = store.knowledge(arguments.knowledge)
    job = facts.job_of(knowledge, read, arguments.tolerance, arguments.stands or "")
    without_given(job, arguments.without)
    try:
        steps = job.next_steps(_STEPS)
    except ContradictionError as error:
        for text in held.held_lines(job.held, _SECURED):
            print(text, file=sys.stderr)
        print(f"hertzwright: {read.file}: {error}", file=sys.stderr)
        return 2
    if arguments.json:
        in_order = {"setting": setting_options.as_json(job)} if job.setting else {}
        print(json.dumps({**as_json(job, steps), **in_order}, sort_keys=True, indent=2))
        return 0
    screen = Screen(arguments.plain)
    _table(job, steps, screen, max(1, arguments.top))
    if job.setting:
        setting_options.say_next(Session(job, None, screen, prompts.PlainAsker()))
    return 0


def cautions(job: Job, steps: tuple[Step, ...]) -> list[str]:
    """Cautions of what holds the job, of a complaint that stops everything, and of the steps, each once."""
    said = [
        ("complaint", event.id) for event in job.standing
        if event.kind == "complaint" and event.answer in ("present", "unsure")
        and job.knowledge.complaints[event.id].stop_first
    ]  # fmt: skip
    named = [(step.kind, step.id) for step in steps]
    catalogue = job.knowledge.catalogue
    found = {caution for hold in job.held for caution in hold.cautions}
    found.update(of_steps(catalogue, [*said, *named], [each.fitting for each in job.off], job.risks))
    return [name for name in catalogue.cautions if name in found]


def as_json(job: Job, steps: tuple[Step, ...]) -> dict[str, object]:
    """Everything that `--json` prints."""
    knowledge = job.knowledge
    causes = []
    for name, chance in job.ranking():
        weighed = [{"facts": list(each.facts), "ratio": each.ratio} for each in job.evidence_for(name)]
        causes.append(
            {
                "id": name,
                "title": knowledge.causes[name].title,
                "probability": chance,
                "for": [each for each in weighed if each["ratio"] > 1.0],  # type: ignore[operator]
                "against": [each for each in weighed if each["ratio"] <= 1.0],  # type: ignore[operator]
            }
        )
    return {
        "version": 1,
        "held": held.as_json(job.held),
        "causes": causes,
        "fault_sets": [{"causes": sorted(present), "probability": chance} for present, chance in job.fault_sets(_SETS)],
        "next": [
            {
                "kind": step.kind,
                "id": step.id,
                "minutes": step.minutes,
                "expected_minutes": step.expected_minutes,
                "why": step.why,
                "put_back": list(step.put_back),
            }
            for step in steps
        ],
        "cautions": cautions(job, steps),
        "set_aside": list(job.set_aside),
        **({"not_here": list(job.absent)} if job.absent else {}),
    }


def _table(job: Job, steps: tuple[Step, ...], screen: Screen, top: int) -> None:
    knowledge = job.knowledge
    held.say_holds(screen, job.held, _SECURED)
    screen.heading("Causes")
    screen.bars([Bar(knowledge.causes[name].title, chance) for name, chance in job.ranking()[:top]])
    screen.fact("Not weighed, too many at once", "; ".join(job.set_aside))
    screen.heading("Together")
    for present, chance in job.fault_sets(3):
        titles = " with ".join(knowledge.causes[name].title for name in sorted(present)) or "none of the known causes"
        screen.line(f"{percent(chance)}: {titles}")
    screen.heading("Next")
    rows = []
    for step in steps:
        known: Mapping[str, Check | Remedy] = {**knowledge.checks, **knowledge.remedies}
        title = (
            known[step.id].title if step.id in known else {"done": "Prove it", "refer": "Hand the set over"}[step.kind]
        )
        rows.append((title, step.kind, minutes(step.minutes), minutes(step.expected_minutes)))
    screen.table(("Step", "Kind", "Takes", "To fixed and proven"), rows)
    screen.fact("Why", steps[0].why)
    back = [knowledge.catalogue.fittings[name].title.lower() for name in steps[0].put_back]
    screen.fact("Back on before it", ", ".join(back))
    named = [knowledge.catalogue.cautions[name].title.lower() for name in cautions(job, steps)]
    screen.fact("Cautions", ", ".join(named))
