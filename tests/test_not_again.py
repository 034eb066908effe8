"""What was put off or cannot be done is not asked again in the same breath, in a job and while setting.

Outside: none; the tools are those that the knowledge names for a step.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from itertools import pairwise
from pathlib import Path

import pytest

from hertzwright.cli.jobsite import check_prompt, proof_run, remedy_prompt, setting, steps
from hertzwright.cli.jobsite.check_prompt import PromptReply
from hertzwright.cli.jobsite.session import Session
from hertzwright.cli.terminal import Stop
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.compiler import alternatives

from technician import desk_of


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def tools_of(knowledge: Knowledge, written: tuple[str, ...]) -> list[str]:
    """The tools without which a step that names them cannot be made: all of one `or`."""
    names = {other: tool.id for tool in knowledge.catalogue.tools.values() for other in tool.names}
    for text in written:
        if (found := alternatives(text, names)) and all(each in names for each in found):
            return list(found)
    return []


def test_a_check_that_lacks_its_tool_is_not_asked_again(knowledge: Knowledge, tmp_path: Path) -> None:
    tried = 0
    for number, check in enumerate(knowledge.checks.values()):
        tools = tools_of(knowledge, check.tools)
        if check.retired is not None or not tools or check.derived_from is not None:
            continue
        job = Job(knowledge)
        if check.id not in job.checks:
            continue
        lines = [f"nh {tool}" for tool in tools]
        rest = iter(lines)
        # Where another tool does, that one is asked after: it is not here either.
        session, script = desk_of(
            job, lambda text, rest=rest: "2" if "It can be done with" in text else next(rest), tmp_path / str(number)
        )
        assert check_prompt.ask(session, check) == PromptReply("none"), (check.id, script.out.getvalue()[-500:])
        assert job.lacking("check", check.id)
        tried += 1
    assert tried > 40


def test_a_remedy_that_lacks_its_tool_waits(knowledge: Knowledge, tmp_path: Path) -> None:
    remedy = next(
        each for each in knowledge.remedies.values() if tools_of(knowledge, each.tools) and not each.dangerous
    )
    lines = [f"nh {tool}" for tool in tools_of(knowledge, remedy.tools)]
    left = iter(lines)

    def answer(text: str) -> str:
        if "so?" in text or "Are you safe" in text:
            return "y"
        try:
            return next(left)
        except StopIteration:
            raise Stop from None

    session, _ = desk_of(Job(knowledge), answer, tmp_path)
    assert remedy_prompt.one(session, remedy.id, None) == PromptReply("none")
    assert not any(event.kind == "remedy" for event in session.job.standing)


def test_a_row_of_readings_goes_on_without_the_one_that_lacks_its_tool(knowledge: Knowledge, tmp_path: Path) -> None:
    asked: list[str] = []

    def answer(text: str) -> str:
        asked.append(text)
        if "so?" in text or "Are you safe" in text:
            return "y"
        return "no voltmeter" if "line voltage" in text else "61.5"

    session, script = desk_of(Job(knowledge), answer, tmp_path)
    tools = tools_of(knowledge, knowledge.checks["voltage_no_load"].tools)
    session.record("hunts_no_load", "present")
    for tool in tools[1:]:
        session.not_here(tool)
    assert proof_run.take_readings(session, "As found", ["voltage_no_load", "frequency_no_load"])
    assert sum("line voltage" in text and "Are you safe" not in text for text in asked) == 1
    assert "works again after them" not in script.out.getvalue()


def work(session: Session) -> None:
    """Go on until the answers end."""
    with suppress(Stop):
        while not steps.turn(session):
            pass


def at_setting(job: Job, said: Callable[[str], str | None], asked: list[str]) -> Callable[[str], str]:
    def answer(text: str) -> str:
        asked.append(text)
        if "so?" in text or "Are you safe" in text:
            return "y"
        given = said(text)
        if given is None:
            raise Stop
        return given

    return answer


def test_skipping_while_setting_goes_on_and_comes_round_once_all_was_put_off(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    """It stood at one step for ever once all that could be done had been put off."""
    job, asked = Job(knowledge), list[str]()
    session, script = desk_of(job, at_setting(job, lambda text: "s" if len(asked) < 60 else None, asked), tmp_path)
    setting.begin(session)
    work(session)
    assert script.out.getvalue().count("Everything was put off once") in (2, 3, 4)
    first = knowledge.checks["fuel_in_tank"].ask
    places = [at for at, text in enumerate(asked) if first in text]
    assert len(places) > 1
    assert all(later - earlier > 5 for earlier, later in pairwise(places))


def test_what_alone_can_be_done_says_why_it_cannot_be_put_off(knowledge: Knowledge, tmp_path: Path) -> None:
    job, asked = Job(knowledge, {"booster": "none"}), list[str]()
    only = knowledge.checks["fuel_in_tank"].ask

    def said(text: str) -> str | None:
        if "It cannot be put off" in text or len(asked) > 100:
            return None
        return "s" if only in text or "1 done" in text else "u"

    session, script = desk_of(job, at_setting(job, said, asked), tmp_path)
    setting.begin(session)
    work(session)
    told = " ".join(script.out.getvalue().split()).rpartition("It cannot be put off: ")[2]
    assert told.startswith("what is left waits for it (")
    assert only in told


def test_a_setting_step_that_lacks_its_tool_is_not_asked_again(knowledge: Knowledge, tmp_path: Path) -> None:
    """The booster was to be drawn with a vacuum pump that is not there, again and again."""
    job, asked = Job(knowledge), list[str]()
    check = knowledge.checks["booster_vacuum_hold"]

    def said(text: str) -> str | None:
        if check.ask in text:
            lines = tools_of(knowledge, check.tools)
            left = [tool for tool in lines if tool not in job.absent and f"nh {tool}" not in " ".join(asked)]
            return f"nh {left[0]}" if left else "u"
        return "u" if len(asked) < 60 else None

    session, _ = desk_of(job, at_setting(job, said, asked), tmp_path)
    setting.begin(session)
    work(session)
    assert sum(check.ask in text for text in asked) == 1
