"""Setting at the terminal: a whole set from "nothing is wrong" to the record, answered by a simulated set."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from hertzwright.cli.files.journal import read
from hertzwright.cli.jobsite import steps
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.job import fixed
from hertzwright.engine.setting import verdict
from hertzwright.engine.simulated import Bench

from technician import desk_of


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


class AtTheSet:
    """Somebody who reads every answer off a simulated set and turns it as told."""

    def __init__(self, job: Job, faults: tuple[tuple[str, float], ...], sharp: float = 0.0, fast: float = 0.0) -> None:
        self.job = job
        self.bench = Bench(job.knowledge.features(job.features), faults, seed=5)
        self.turn({"sensitivity": sharp, "speed": fast})
        self.looks = 0
        self.done = len(job.events)
        self.asked: list[str] = []

    def turn(self, turns: dict[str, float]) -> None:
        governor = self.bench.plant.governor
        governor = replace(
            governor,
            speed_turns=governor.speed_turns + turns.get("speed", 0.0),
            sensitivity_turns=governor.sensitivity_turns + turns.get("sensitivity", 0.0),
        )
        plant = replace(self.bench.plant, governor=governor)
        self.bench = replace(self.bench, steps=self.bench.steps + 1)
        object.__setattr__(self.bench, "plant", plant)

    def follow(self) -> None:
        """What was done since the last prompt, done to the set."""
        for event in self.job.events[self.done :]:
            if event.kind == "remedy" and not event.cells:
                governor = self.bench.plant.governor
                cures = self.job.knowledge.remedies[event.id].cures
                self.bench = self.bench.carry_out(dict.fromkeys(cures, 1.0))
                kept = replace(
                    self.bench.plant.governor,
                    speed_turns=governor.speed_turns,
                    sensitivity_turns=governor.sensitivity_turns,
                )
                object.__setattr__(self.bench, "plant", replace(self.bench.plant, governor=kept))
            elif event.kind == "set_to" and event.answer == "turned":
                self.turn({name: float(turns) for name, turns in event.cells.items()})
        self.done = len(self.job.events)

    def __call__(self, text: str) -> str:
        self.follow()
        self.asked.append(text)
        for sign, answer in (
            ("What is the trouble?", "set in order"),
            ("Are you safe", "1"),
            ("Is the set shut", "1"),
            ("does the throttle plate", "1"),
            ("Who says so?", "Kim"),
            ("Is it so?", "1"),
            ("Is all of it so?", "1"),
            ("Which of these is it?", "1"),
            ("Where does it stand now?", ""),
            ("turned so", "1"),
            ("carried out 2", "1"),
            ("1 done 2 not now", "1"),
            ("close it: set and proven", "1"),
            ("close it as open", "1"),
        ):
            if sign in text:
                return answer
        asked = [(text.rfind(check.ask), name) for name, check in self.job.checks.items() if check.ask in text]
        assert asked, text[-500:]
        self.looks += 1
        return self.bench.answer(max(asked)[1], self.looks)


def test_a_set_with_everything_wrong_is_set_in_order(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge, {"booster": "none"})
    faults = (("throttle_rod_long", 0.6), ("idle_mixture_lean", 0.6), ("idle_passage_dirty", 0.6))
    at_work = AtTheSet(job, faults, sharp=-4.0, fast=2.0)
    session, script = desk_of(job, at_work, tmp_path, width=40)
    assert steps.run(session) == 0
    out = script.out.getvalue()
    assert job.closed == "fixed", out[-3000:]
    assert verdict(job).passed
    assert fixed(job)
    assert 60.5 <= at_work.bench.true_no_load <= 62.5
    assert not {cause for cause, _ in at_work.bench.faults}
    # It was held once, as it raced at its first run, and the dirt was found before the idle needle was set over it.
    kinds = [event.kind for event in job.standing]
    assert "taken_off" not in kinds
    assert "This is found first; setting goes on" in " ".join(out.split())
    assert [event.id for event in job.standing if event.kind == "remedy"].count("clean_idle_passages") == 1
    assert max(len(line) for line in out.splitlines()) <= 40
    assert session.journal is not None
    session.journal.close()
    assert read(session.journal.path).events == job.events
