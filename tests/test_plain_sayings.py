"""Plain sayings are kept at once: what can hardly be meant otherwise and harms nobody is not asked back.

Outside: none; the sayings are invented, as the trade says them (common practice, from memory).
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
import yaml

from hertzwright.cli.jobsite import check_prompt
from hertzwright.cli.terminal import Back, Stop
from hertzwright.engine import Job, Knowledge, load_knowledge

from technician import desk_of

CASES: list[dict[str, Any]] = yaml.load(
    Path(__file__).with_name("plain_sayings.yaml").read_text("utf-8"), yaml.BaseLoader
)["sayings"]


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def at_once(knowledge: Knowledge, case: dict[str, Any], folder: Path) -> tuple[str, float | None]:
    """What is kept of a saying with nothing typed after it."""
    job = Job(knowledge, {"rated_kw": 9})
    given = iter([case["said"]])
    session, _ = desk_of(job, lambda text: next(given, "x"), folder)
    with suppress(Stop, Back):
        check_prompt.ask(session, knowledge.checks[case["at"]])
    made = next((made for made in job.made if made.check == case["at"]), None)
    if made is None or not made.answer.outcomes:
        return "", None
    return made.answer.outcomes[0], max(made.answer.values, default=None)


@pytest.mark.parametrize(("written", "least"), [("before", 0.9), ("after", 0.7)])
def test_plain_sayings_are_kept_at_once(written: str, least: float, knowledge: Knowledge, tmp_path: Path) -> None:
    """Before the mend 4 % of those that were written first were kept at once, and 93 % after it; of those that were
    written after it 3 % and 75 %. Never is one kept as another answer, nor what says two things or less than it seems.
    """
    right, meant, wrong = 0, 0, []
    for at, case in enumerate(case for case in CASES if case["written"] == written):
        outcome, value = at_once(knowledge, case, tmp_path / str(at))
        read = "reads" not in case or (value is not None and abs(value - float(case["reads"])) < 1e-6)
        meant += bool(case["means"])
        right += bool(case["means"]) and outcome == case["means"] and read
        if outcome and (outcome != case["means"] or not read):
            wrong.append(f"{case['at']}: {case['said']}: {outcome} {value}")
    assert not wrong
    assert right / meant >= least


@pytest.mark.parametrize(
    ("check", "said"),
    [("frequency_no_load", "about 70"), ("fuel_leak_look", "it drips a bit"), ("oil_level", "down a bit low")],
)
def test_what_is_dangerous_is_said_back(check: str, said: str, knowledge: Knowledge, tmp_path: Path) -> None:
    assert at_once(knowledge, {"at": check, "said": said}, tmp_path) == ("", None)
