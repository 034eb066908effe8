"""Setting a simulated set from the ground up: as the program says, and in the book's order with the book's steps.

Purpose: a mis-set or faulty set of the family and a way of setting it -> how it ended, what was noticed, how long.
Law: the same set and way give the same result. The technician reads every check off the set through the meter and does
with his hands what is said; whether the result is within the limits is read off the set itself and not off the meter.
Assumed: a set that is handed over, or left outside the limits, costs the knowledge's minutes of handing over besides.
Not here: the course and its advice (see the room `setting`), sets with a complaint (see `family_set`, `visit`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from ..compiler import Features, Knowledge
from ..job import ContradictionError, Job
from ..readings import read_answer
from ..setting import SettingAdvice, advise, course_of, course_of_job, not_responding, put, right, turned, unresponsive
from ..simulated import Draws, draw_faults, equilibrium, family_member
from .family_set import FamilySet, sayable
from .played_job import make_safe
from .technician import TechnicianAtWork

MOST_TASKS = 220
"""Tasks after which a setting wanders."""
NOTICED = 0.5
"""Chance from which a fault counts as noticed."""
AT_THE_END = 0.05
"""Turns that are none: the adjuster stands at the end of its thread."""
ROUGHLY = 0.1
"""How far off the book's pull a booster's spring is hooked up, part of it."""


@dataclass(frozen=True, slots=True)
class SettingResult:
    """How a setting went. within: every load of the set itself is within the limits. faults: those that are more than
    where an adjuster stands, as found; left: those still there; over: those left that nobody noticed, on a set that
    was called right. end: done, handed over or wandering."""

    end: str
    within: bool
    minutes: float
    tasks: int
    faults: tuple[str, ...]
    left: tuple[str, ...]
    over: tuple[str, ...]
    outside: tuple[str, ...] = ()
    settings: tuple[str, ...] = ()

    @property
    def good(self) -> bool:
        """Called right and within the limits with nothing set over, or handed over with a fault that is there."""
        return (self.end == "done" and self.within and not self.over) or (self.end == "handed over" and bool(self.left))


def mis_set(
    knowledge: Knowledge, seed: int | str, settings: Iterable[str], faults: int = 0, held_out: bool = False
) -> FamilySet:
    """The set of a seed on which about two of three settings are wrong together, and so many faults besides.

    settings: causes that are only wrong settings. Raises LookupError where no such set comes.
    """
    only = frozenset(settings)
    for number in range(40):
        member = family_member(knowledge, f"setting/{seed}.{number}", held_out)
        here = (name for name in only if _can_be_turned(knowledge, name, member.features))
        wrong = draw_faults(knowledge, member, len(only), sorted(here))
        draws = {cause: Draws(member.seed, "mis-set", cause).uniform() for cause, _ in wrong}
        wrong = tuple(each for each in wrong if draws[each[0]] < 2.0 / 3.0)
        parts = {knowledge.causes[cause].part for cause, _ in wrong}
        others = [name for name in knowledge.causes if name not in only and knowledge.causes[name].part not in parts]
        drawn = draw_faults(knowledge, member, faults, sorted(others)) if faults else ()
        if len(wrong) < 3 or len(drawn) < faults:
            continue
        faulty = FamilySet(knowledge, member.with_faults(drawn), member=member)
        if faults and not any(faulty.shows(name) for name in sayable(knowledge, faulty)):
            continue
        only_set = frozenset(cause for cause, _ in wrong)
        return FamilySet(knowledge, member.with_faults((*wrong, *drawn)), member=member, only_set_wrong=only_set)
    raise LookupError(f"seed {seed}: no mis-set set of 40")


def _can_be_turned(knowledge: Knowledge, cause: str, features: Features) -> bool:
    """Whether a wrong setting can be put right on such a set: a step of its course works on it."""
    course = course_of(knowledge, features)
    works = {remedy for listed in course.works.values() for remedy in listed}
    return any(cause in knowledge.remedies[remedy].cures for remedy in works)


Setter = Callable[[Job, "HandsOn"], str]
"""A way of setting: works on the set until it is done, handed over or wandering, and says which."""


class HandsOn(TechnicianAtWork):
    """The technician who sets a set: beside looks and remedies, what his hand turns and puts."""

    def __init__(self, job: Job, called: FamilySet) -> None:
        super().__init__(job, called)
        self.noticed: set[str] = set()
        self.tasks = 0

    def read(self, check: str) -> None:
        self.make(check)
        self.tasks += 1
        make_safe(self.job)

    def work(self, remedy: str) -> None:
        self.carry_out(remedy)
        self.noticed |= self.job.knowledge.remedies[remedy].cures.keys()
        self.tasks += 1

    def turn(self, advice: SettingAdvice) -> None:
        """Turn as told, as far as the thread goes; an adjuster that stands at its end is told to be there."""
        gone = {name: self.called.bench.goes(name, turns) for name, turns in advice.turns.items()}
        self.tasks += 1
        if not any(abs(turns) > AT_THE_END for turns in gone.values()):
            not_responding(self.job, unresponsive(self.job, advice.step))
            return
        for adjuster, turns in gone.items():
            self.called.bench = self.called.bench.turn(adjuster, turns)
        turned(self.job, advice, {name: round(turns, 3) for name, turns in gone.items()})

    def place(self, advice: SettingAdvice) -> None:
        step = self.job.knowledge.catalogue.setting[advice.step]
        bench = self.called.bench
        if step.start is not None:
            self.called.bench = bench.place(advice.step.removesuffix("_at_start"), step.start)
        elif advice.step == "booster_at_start" and bench.made is not None:
            draws = Draws(bench.seed, "book's pull")
            about = 1.0 + draws.uniform(-ROUGHLY, ROUGHLY)
            self.called.bench = bench.place("booster", bench.made.booster.strength * about)
        put(self.job, advice)
        self.tasks += 1

    def believe(self) -> None:
        """What is probable enough by now counts as noticed."""
        try:
            self.noticed |= {cause for cause, chance in self.job.posterior().items() if chance >= NOTICED}
        except ContradictionError:
            return


def set_in_order(knowledge: Knowledge, called: FamilySet, way: Setter) -> SettingResult:
    """One set, set in order from the ground up. `called` is used up."""
    job = Job(knowledge, called.features)
    job.begin_setting()
    hands = HandsOn(job, called)
    found = tuple(sorted(called.faults - called.only_set_wrong))
    end = way(job, hands)
    hands.believe()
    left = tuple(sorted(called.faults & set(found)))
    outside = outside_limits(knowledge, called)
    over = tuple(cause for cause in left if end == "done" and cause not in hands.noticed)
    lost = 0.0 if end == "done" and not outside and not over else knowledge.catalogue.costs.refer
    return SettingResult(
        end, not outside, round(job.minutes + lost, 2), hands.tasks, found, left, over, outside,
        tuple(sorted(called.only_set_wrong)),
    )  # fmt: skip


def outside_limits(knowledge: Knowledge, called: FamilySet) -> tuple[str, ...]:
    """Checks of the proof that the set itself fails: steady speed by the physics, swings by what it does."""
    bench = called.bench
    bands = knowledge.catalogue.tolerances["default"].bands
    features = knowledge.features(called.features)
    hertz = {
        name: equilibrium(bench.plant, share * bench.load, bench.warm_minutes).speed * bench.plant.hertz
        for name, share in (("no", 0.0), ("full", 1.0))
    }
    read = {
        "frequency_no_load": f"{hertz['no']:.2f} Hz",
        "frequency_full_load": f"{hertz['full']:.2f} Hz",
        "frequency_spread": f"{hertz['no'] - hertz['full']:.2f} Hz",
        **{check: bench.answer(check) for check in ("swing_no_load", "swing_half_load", "swing_full_load")},
    }
    found = []
    for check, answer in read.items():
        known = knowledge.checks[check]
        outcomes = read_answer(known, answer, features, bands.get(check)).outcomes
        fine = {known.normal, *knowledge.catalogue.costs.also_fine.get(check, ())}
        if outcomes and not fine & set(outcomes):
            found.append(check)
    return tuple(found)


# ---- ways of setting


def as_advised(job: Job, hands: HandsOn) -> str:
    """Do what the program says, each time the first thing."""
    while hands.tasks < MOST_TASKS:
        make_safe(job)
        try:
            said = advise(job)
        except ContradictionError:
            return "wandering"
        if said.kind in ("search", "refer"):
            hands.believe()
            hands.noticed |= {cause for cause, _ in said.causes}
        if said.kind == "done":
            return "done"
        if said.kind == "refer":
            return "handed over"
        if said.check:
            hands.read(said.check)
        elif said.remedy:
            hands.work(said.remedy)
        elif said.kind == "turn":
            hands.turn(said)
        elif said.kind == "stuck":
            hands.believe()
            not_responding(job, said)
            hands.tasks += 1
        else:
            hands.place(said)
    return "wandering"


HALF_TURN, MOST_TURNS, PASSES = 0.5, 24, 3


def by_the_book(job: Job, hands: HandsOn) -> str:
    """Step after step as written: everything read, every needle to its start, half a turn of the speed adjuster and one
    of sensitivity or booster at a time, speed and sensitivity again until both hold; what fails its proof is gone
    through again, and after three times the set is handed over."""
    for _ in range(PASSES):
        course = course_of_job(job)
        wrong = False
        for name in course.steps:
            wrong |= not _book_step(job, hands, name)
            if hands.tasks >= 3 * MOST_TASKS:
                return "wandering"
        if not wrong:
            return "done"
    return "handed over"


def _book_step(job: Job, hands: HandsOn, name: str) -> bool:
    """One step of the book; whether it is right in the end."""
    course = course_of_job(job)
    step, reads = course.steps[name], course.read(name)
    if not reads or step.starts:
        hands.place(SettingAdvice("place" if step.starts else "do", name))
        return True
    for _ in range(MOST_TURNS):
        for check in reads:
            hands.read(check)
        wrong = _wrong(job, name, course.checks[name])
        if not wrong:
            return True
        remedy = next((does for check, outcomes in wrong if (does := step.remedy_for(check, outcomes))), "")
        if remedy:
            if sum(event.kind == "remedy" and event.id == remedy for event in job.standing) >= 2 * PASSES:
                return False
            hands.work(remedy)
        elif step.adjuster or step.pair:
            turns = _book_turn(wrong)
            if not turns:
                return False
            hands.turn(SettingAdvice("turn", name, turns=turns))
        else:
            return False
    return False


def _wrong(job: Job, name: str, checks: Iterable[str]) -> list[tuple[str, tuple[str, ...]]]:
    """Checks of a step that do not read right now, with what they read."""
    step = course_of_job(job).steps[name]
    latest = {made.check: made.answer for made in job.made}
    return [
        (check, latest[check].outcomes)
        for check in checks
        if check in latest and latest[check].outcomes and not right(job, step, check, latest[check])
    ]


def _book_turn(wrong: Iterable[tuple[str, tuple[str, ...]]]) -> dict[str, float]:
    """The book's turn: slack where it hunts, else by the speed, else sharp where it falls too far."""
    found = dict(wrong)
    if any(check.startswith("swing") for check in found):
        return {"sensitivity": -1.0}
    for outcome in found.get("frequency_no_load", ()):
        if "high" in outcome:
            return {"speed": -HALF_TURN}
        if "low" in outcome:
            return {"speed": HALF_TURN}
    if "frequency_spread" in found or "frequency_full_load" in found:
        return {"sensitivity": 1.0}
    return {}
