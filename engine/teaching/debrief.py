"""The debrief of a drill: the path taken beside the program's, and what there is to learn from the difference.

Purpose: from a drill to values: both paths with their minutes and the reasons of the program's, the reading that gave a
cause away, checks that told nothing and why, order rules broken and what that cost, remedies that were not needed,
unsafe moves, what was cured by luck, what to do next time, and how belief in the true causes moved up to their repair.
Law: pure; the same drill gives the same debrief. The program's path is what `rehearsal` plays on the very same set.
What a broken rule cost is in expected minutes to fixed and proven, by what was known at the time: the minutes of the
step that broke it and those expected after it, less those expected before it with the rules kept. It may be negative:
a broken rule can go well. (The difference of two plays to the end was tried, and hung on luck far more than on rules.)
Not here: how it is told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum

from ..compiler import Knowledge, OrderRule
from ..job import ContradictionError, Job
from ..rehearsal import REFERRED, Played
from .drill import FIXED, GIVEN_UP, NOT_FIXED, Drill, DrillMove, DrillVerdict
from .drill_set import DrillSet
from .expert import DEPTH, ExpertPath, expert_path
from .scenario import Scenario
from .score import DrillScore, score
from .takeaway import (
    HARDLY,
    GaveAway,
    Moved,
    NextTime,
    cured_at,
    gave_away_by,
    most_moved,
    next_time,
    program_readings,
    was_found,
)

WORTH, LEAST = 0.1, 0.02
"""An answer that lifts a cause by at least the first, and has at least the second as its chance, was worth a look."""
UNKNOWN, AGAIN, BLUNT, EXPECTED = "unknown", "again", "blunt", "expected"


@dataclass(frozen=True, slots=True)
class Could:
    """An answer that a check could have given: its chance at the time, and the cause that it would have lifted."""

    outcome: str
    chance: float
    cause: str
    belief: float


@dataclass(frozen=True, slots=True)
class ToldNothing:
    """A check after which belief was as before. `at`: its place on the path.

    why: unknown (this set could not answer it), again (nothing had been changed since the last time), blunt (no answer
    could have told anything: every cause that it shows was as good as out), expected (the answer was the likely one).
    shows: the causes that this check can show, with their belief at the time. asked: an order rule asked for it.
    """

    at: int
    check: str
    why: str
    shows: tuple[tuple[str, float], ...]
    could: tuple[Could, ...]
    asked: bool


@dataclass(frozen=True, slots=True)
class Broken:
    """An order rule broken by the step at `at`. `missing`: what the rule puts before it, or after it for do_again.

    cost: minutes, see the law of this module; for do_again those of the proof run that failed for want of it. None
    where findings contradict each other.
    """

    at: int
    step: str
    rule: OrderRule
    missing: tuple[str, ...]
    cost: float | None


@dataclass(frozen=True, slots=True)
class Debrief:
    """What there is to say of a drill. The minutes of both paths hold handing over where that was done."""

    truth: tuple[tuple[str, float], ...]
    verdict: DrillVerdict
    path: tuple[DrillMove, ...]
    minutes: float
    hint_minutes: float
    engine: Played
    engine_minutes: float
    told_nothing: tuple[ToldNothing, ...]
    broken: tuple[Broken, ...]
    needless: tuple[int, ...]
    unsafe: tuple[int, ...]
    belief: tuple[Mapping[str, float], ...]
    """In the true causes: as the customer spoke, and after each move."""
    missed: tuple[str, ...]
    """True causes that are still in the set, that a hint had to name the remedy of, or that luck cured."""
    lucky: tuple[str, ...]
    """True causes that a remedy cured while hardly anything spoke for them."""
    reasons: tuple[str, ...]
    """Why the program took each step of its path."""
    gave_away: tuple[GaveAway, ...]
    """For each true cause that any reading spoke for."""
    next_time: tuple[NextTime, ...]
    """At most two: what could have hurt, and the costliest choice in the looking."""
    cured: Mapping[str, int]
    """Causes that went out of the set, with the place of the move that did it; belief is of interest up to there."""
    better: float
    """Minutes by which the trainee beat the program; 0 where he did not, or the set was not left fixed."""
    slipped: str
    """The remedy that was botched once, empty where none was; the scenario says how."""
    score: DrillScore
    told: tuple[Moved | None, ...]
    """What each check of the program told, up to its first remedy; None where it hardly told anything."""


def debrief(drill: Drill, deepen: int = DEPTH, deepen_costs: int = 0, played: Played | None = None) -> Debrief:
    """The debrief of a drill; of one that is not over, as if it was given up now.

    deepen: how deep the program looks on its own path (see `Job.next_steps`); deepen_costs: and for what a broken rule
    cost. played: the program's path, where it has been worked out already.
    """
    verdict = drill.verdict
    if verdict is None or verdict.end == NOT_FIXED:
        proof = drill.set.copy().proof()
        outside = tuple(f"{each.check} = {each.answer}" for each in proof.readings if each.fine is False)
        end = NOT_FIXED if verdict is not None else GIVEN_UP
        verdict = DrillVerdict(end, tuple(sorted(drill.set.faults)), outside, proof.still, drill.minutes)
    reasons: tuple[str, ...] = ()
    if played is None:
        path = expert_of(drill.knowledge, drill.dealt, deepen)
        played, reasons = path.played, path.reasons
    elif drill.dealt.expert is not None and played is drill.dealt.expert.played:
        reasons = drill.dealt.expert.reasons
    referred = drill.knowledge.catalogue.costs.refer if played.end == REFERRED else 0.0
    beliefs = [drill.start, *(move.belief for move in drill.moves)]
    truth = drill.dealt.truth
    cured = cured_at(drill)
    lucky = tuple(cause for cause, at in cured.items() if cause in truth and not was_found(beliefs[at], cause))
    theirs = program_readings(drill, played)
    given = gave_away_by(drill, beliefs, cured, theirs)
    broken = tuple(_broken(drill, beliefs, deepen_costs))
    needless = tuple(_needless(drill))
    engine_minutes = (played.moves[-1].minutes if played.moves else 0.0) + referred
    better = engine_minutes - verdict.minutes if verdict.end == FIXED and played.moves else 0.0
    return Debrief(
        drill.dealt.faults,
        verdict,
        tuple(drill.moves),
        verdict.minutes,
        verdict.minutes - drill.job.minutes if verdict.end != "handed over" else drill.minutes - drill.job.minutes,
        played,
        engine_minutes,
        tuple(_told_nothing(drill, beliefs)),
        broken,
        needless,
        tuple(at for at, move in enumerate(drill.moves) if move.kind == "unsafe"),
        tuple({cause: found.get(cause, 0.0) for cause in truth} for found in beliefs),
        tuple(cause for cause in truth if cause in verdict.left or cause in lucky or _named_by_hint(drill, cause)),
        lucky,
        reasons,
        given,
        next_time(drill, [(each.rule.id, each.cost) for each in broken], needless, given, verdict, better),
        cured,
        max(0.0, better),
        drill.set.slipped,
        score(drill, len(broken), verdict, engine_minutes),
        tuple(map(most_moved, theirs)),
    )


def program_path(knowledge: Knowledge, dealt: Scenario, deepen: int = DEPTH) -> Played:
    """The dealt set worked by the suggestions, always the first, to its end."""
    return expert_of(knowledge, dealt, deepen).played


def expert_of(knowledge: Knowledge, dealt: Scenario, deepen: int = DEPTH) -> ExpertPath:
    """The program's path on the dealt set with its reasons: the one it was dealt for, or played now."""
    if dealt.expert is not None and deepen == DEPTH:
        return dealt.expert
    return expert_path(knowledge, dealt.features, dealt.complaints, DrillSet(knowledge, dealt), deepen)


def _named_by_hint(drill: Drill, cause: str) -> bool:
    remedies = drill.knowledge.remedies
    hints = (move for move in drill.moves if move.kind == "hint" and move.rung in ("step", "reason"))
    return any(move.answer == "remedy" and cause in remedies[move.id].cures for move in hints)


# ---- checks that told nothing


def _told_nothing(drill: Drill, beliefs: Sequence[Mapping[str, float]]) -> list[ToldNothing]:
    found = []
    for at, move in enumerate(drill.moves):
        if move.kind != "check":
            continue
        before, after = beliefs[at], beliefs[at + 1]
        moved = max((abs(after.get(cause, 0.0) - chance) for cause, chance in before.items()), default=0.0)
        if moved >= HARDLY or not before or not after:
            continue
        # What is not right told something even where the customer's words had said it before it was read.
        if move.outcomes and drill.knowledge.checks[move.id].normal not in move.outcomes and not _again(drill, at):
            continue
        shown = drill.knowledge.network.shows[move.id]
        shows = sorted(
            ((cause, before[cause]) for cause in shown if cause in before), key=lambda row: (-row[1], row[0])
        )
        could = _could(drill.knowledge, move, before)
        again = _again(drill, at)
        why = UNKNOWN if move.answer == "unknown" else AGAIN if again else EXPECTED if could else BLUNT
        found.append(ToldNothing(at, move.id, why, tuple(shows), could, _asked(drill, move.id, before)))
    return found


def _again(drill: Drill, at: int) -> bool:
    """Whether the same check was made before, with no remedy in between."""
    for move in reversed(drill.moves[:at]):
        if move.kind == "remedy":
            return False
        if move.kind == "check" and move.id == drill.moves[at].id:
            return True
    return False


def _could(knowledge: Knowledge, move: DrillMove, before: Mapping[str, float]) -> tuple[Could, ...]:
    """Answers other than the one given that would have lifted a cause, the likeliest first.

    Belief after such an answer is worked out as if one cause alone had made it: near enough to say what a check was
    good for, and quick after many remedies, where the exact belief of every answer would take a minute.
    """
    check, network = knowledge.checks[move.id], knowledge.network
    shows = {cause: row for cause, row in network.shows[move.id].items() if before.get(cause, 0.0) > 0.0}
    found = []
    for position, outcome in enumerate(check.outcomes):
        if not position or outcome.id in move.outcomes:
            continue
        made = {cause: before[cause] * row[position] for cause, row in shows.items()}
        total = fsum(made.values()) + network.leak[move.id][position]
        if not made or total <= 0.0:
            continue
        cause = max(sorted(made), key=lambda name: made[name] / total - before[name])
        if made[cause] / total - before[cause] >= WORTH and total >= LEAST:
            found.append(Could(outcome.id, min(1.0, total), cause, made[cause] / total))
    return tuple(sorted(found, key=lambda each: (-each.chance, each.outcome)))


def _asked(drill: Drill, check: str, belief: Mapping[str, float]) -> bool:
    """Whether a remedy that may well be needed waits for this check by an order rule."""
    suspected = _suspected(drill.knowledge)
    return any(
        rule.kind == "look_first" and check in rule.before
        and any(
            any(belief.get(cause, 0.0) >= suspected for cause in drill.knowledge.remedies[name].cures)
            for name in rule.after
            if name in drill.knowledge.remedies
        )
        for rule in drill.knowledge.catalogue.order.values()
    )  # fmt: skip


# ---- order rules


def _suspected(knowledge: Knowledge) -> float:
    return knowledge.catalogue.words["sometimes"].value


def rules_broken(job: Job, step: str, belief: Mapping[str, float]) -> tuple[tuple[OrderRule, tuple[str, ...]], ...]:
    """Order rules that a step would break now, each with what should come first: the rules that the planner keeps.

    look_first: checks of this set that have not been answered; what can no longer be read as found is waited for no
    more. cure_first: remedies not yet tried, of which a cause is suspected ("sometimes" or more). A step that has been
    done before breaks nothing anew.
    """
    knowledge, found = job.knowledge, []
    made = {each.check for each in job.made}
    done = {event.id for event in job.standing if event.kind == "remedy"}
    suspected = _suspected(knowledge)
    past = set(knowledge.catalogue.costs.as_found) - set(job.owed)
    for rule in knowledge.catalogue.order.values():
        if step not in rule.after:
            continue
        if rule.kind == "look_first":
            missing = tuple(
                name for name in rule.before if name in job.checks and name not in made and name not in past
            )
        elif rule.kind == "cure_first":
            missing = tuple(
                name for name in rule.before
                if name not in done
                and any(belief.get(cause, 0.0) >= suspected for cause in knowledge.remedies[name].cures)
            )  # fmt: skip
        else:
            continue
        if missing:
            found.append((rule, missing))
    return tuple(found)


def _broken(drill: Drill, beliefs: Sequence[Mapping[str, float]], deepen: int) -> list[Broken]:
    found: list[Broken] = []
    known: dict[int, float | None] = {}
    seen: set[tuple[str, str]] = set()
    for at, move in enumerate(drill.moves):
        if move.kind in ("check", "remedy"):
            job = drill.job_before(move)
            rules = [pair for pair in rules_broken(job, move.id, beliefs[at]) if (pair[0].id, move.id) not in seen]
            if rules:
                cost = _cost(drill, at, deepen, known)
                found += [Broken(at, move.id, rule, missing, cost) for rule, missing in rules]
                seen |= {(rule.id, move.id) for rule, _ in rules}
        elif move.kind in ("proof", "fixed") and move.answer == "failed":
            found += _not_done_again(drill, at)
    return found


def _cost(drill: Drill, at: int, deepen: int, known: dict[int, float | None]) -> float | None:
    move = drill.moves[at]
    events = drill.moves[at + 1].events if at + 1 < len(drill.moves) else len(drill.job.events)
    before, after = (_expected(drill, count, deepen, known) for count in (move.events, events))
    return None if before is None or after is None else move.spent + after - before


def _expected(drill: Drill, events: int, deepen: int, known: dict[int, float | None]) -> float | None:
    """Expected minutes to fixed and proven from after so many events, rules kept."""
    if events not in known:
        try:
            known[events] = (
                Job.replay(drill.knowledge, drill.job.events[:events]).next_steps(1, deepen)[0].expected_minutes
            )
        except ContradictionError:
            known[events] = None
    return known[events]


def _not_done_again(drill: Drill, at: int) -> list[Broken]:
    """Rules of what is due after a remedy, where the proof run failed for want of it: its minutes are the cost."""
    move, knowledge, found = drill.moves[at], drill.knowledge, []
    done = [other.id for other in drill.moves[:at] if other.kind == "remedy"]
    worst = _wrong(move.before)
    for rule in knowledge.catalogue.order.values():
        if rule.kind != "do_again":
            continue
        last = max((place for place, name in enumerate(done) if name in rule.before), default=None)
        if last is None:
            continue
        for due in rule.after:
            if due in done[last + 1 :] or due not in drill.remedies:
                continue
            other = move.before.copy()
            other.mend(due)
            if _wrong(other) < worst:
                found.append(Broken(at, done[last], rule, (due,), move.spent))
    return found


def _wrong(found: DrillSet) -> int:
    """How many readings and complaints of a proof run are not right."""
    proof = found.copy().proof()
    return sum(reading.fine is False for reading in proof.readings) + len(proof.still)


def _needless(drill: Drill) -> list[int]:
    """Remedies none of whose causes was there, that no rule made due, and after which the set was no better."""
    found = []
    for at, move in enumerate(drill.moves):
        if move.kind != "remedy" or move.before.faults & drill.knowledge.remedies[move.id].cures.keys():
            continue
        if _due(drill, at):
            continue
        after = drill.moves[at + 1].before if at + 1 < len(drill.moves) else drill.set
        if _wrong(after) >= _wrong(move.before):
            found.append(at)
    return found


def _due(drill: Drill, at: int) -> bool:
    """Whether an earlier remedy made this one due by an order rule, and it had not been done since."""
    done = [move.id for move in drill.moves[:at] if move.kind == "remedy"]
    name = drill.moves[at].id
    since = done[len(done) - done[::-1].index(name) :] if name in done else done
    return any(
        rule.kind == "do_again" and name in rule.after and set(since) & set(rule.before)
        for rule in drill.knowledge.catalogue.order.values()
    )
