"""Sets of the family that are called out: faults that nobody knows, a complaint of what the set truly shows.

Purpose: the simulated sets of `simulated.family` as a technician meets them, with remedies that work or do not.
Law: set number n of a seed is the same set whoever works on it, in whatever order: what a check shows depends on the
set as it is and how often it was looked at, and whether a remedy takes on the cause and how often it was done.
A new cause, check, complaint or remedy of the knowledge leaves as they were the sets that it does not touch.
Not here: how anybody works on such a set (see `visit`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ..compiler import Knowledge
from ..simulated import Bench, Draws, FamilyMember, draw_faults, draw_state, family_member
from .virtual_set import BenchSet

NO_LOAD, OFF_SPEED = 61.7, 1.0
"""Hz at 60 Hz: where no load belongs, and how far off it may be, which is what the usual limits allow."""
TRIES = 40
"""Members that are drawn until the owner of one notices something."""


class FamilySet(BenchSet):
    """A set of the family, as found."""

    def __init__(
        self, knowledge: Knowledge, bench: Bench, complaint: str = "", member: FamilyMember | None = None,
        only_set_wrong: frozenset[str] = frozenset(),
    ) -> None:  # fmt: skip
        """only_set_wrong: of the faults found, those that are nothing but wrong settings (see `setting_visit`)."""
        super().__init__(knowledge, bench, complaint)
        self.member = member
        self.found = bench.faults
        self.only_set_wrong = only_set_wrong
        self._done: dict[str, int] = {}

    def again(self) -> FamilySet:
        """The same set as it was found, for another who works on it."""
        start = self.bench if not self._done else Bench(
            self.bench.features, self.found, self.bench.seed, self.member.hide if self.member else 0.0,
            made=self.bench.made,
        )  # fmt: skip
        return FamilySet(self.knowledge, start, self.complaint, self.member, self.only_set_wrong)

    def mend(self, remedy: str) -> None:
        """Carry out a remedy, without a proof run."""
        time = self._done[remedy] = self._done.get(remedy, 0) + 1
        known, seed = self.knowledge.remedies[remedy], self.bench.seed
        works = {
            cause: 1.0 if Draws(seed, "cure", remedy, cause, time).uniform() < chance else 0.0
            for cause, chance in known.cures.items()
        }
        # What a remedy ends with, such as setting the speed, is a step of its own here.
        self.bench = self.bench.carry_out(works)

    @property
    def right(self) -> bool:
        """Whether nothing is wrong any more: no fault, and no load where it belongs, whatever the meter says."""
        return not self.faults and abs(self.bench.true_no_load - NO_LOAD) < OFF_SPEED


def call_out(
    knowledge: Knowledge,
    seed: int | str,
    faults: int = 1,
    held_out: bool = False,
    causes: Iterable[str] | None = None,
) -> FamilySet:
    """The set of a seed with so many faults and the complaint of its owner, one of those that are true of it.

    A set on which nothing can be noticed is not called out: the next one is. With no faults the owner is mistaken and
    says what is not so. causes: those to draw from, None for all. Raises LookupError where no set is called out.
    """
    pool = None if causes is None else tuple(causes)
    for number in range(TRIES):
        member = family_member(knowledge, f"{seed}.{number}", held_out)
        drawn = draw_faults(knowledge, member, faults, pool)
        if len(drawn) < faults:
            continue
        found = FamilySet(knowledge, member.with_faults(drawn), member=member)
        # By their scores: a further complaint leaves the others in their order.
        ranked = sorted(sayable(knowledge, found), key=lambda name: draw_state(member.seed, "complaint", name))
        sound = FamilySet(knowledge, member.with_faults(()))
        for complaint in ranked:
            # What such a set does when it is sound is no complaint of its owner.
            if found.shows(complaint) == bool(faults) and not sound.shows(complaint):
                return FamilySet(knowledge, found.bench, complaint, member)
    raise LookupError(f"seed {seed}: none of {TRIES} sets shows anything")


def called_again(
    knowledge: Knowledge, member: str, faults: Sequence[tuple[str, float]], complaint: str, held_out: bool = False
) -> FamilySet:
    """A set that was called out before, perhaps with another knowledge: the seed of its member, faults and complaint.

    Raises LookupError where this knowledge has not what it had.
    """
    missing = [name for name, _ in faults if name not in knowledge.causes]
    missing += [name for name in (complaint,) if name not in knowledge.complaints]
    seed = member.partition("/")[2].rpartition("/")[0]
    found = family_member(knowledge, seed, held_out)
    if missing or found.seed != member:
        raise LookupError(f"{member}: {', '.join(missing) or 'the ranges of the family'} is not as it was")
    return FamilySet(knowledge, found.with_faults(faults), complaint, found)


def sayable(knowledge: Knowledge, found: FamilySet) -> set[str]:
    """Complaints that can be made of such a set at all; of one that stops everything nobody is mistaken."""
    features = knowledge.features(found.features)
    return {
        name
        for name, each in knowledge.complaints.items()
        if each.retired is None
        and not (each.stop_first and not found.faults)
        and all(knowledge.applies(check, features) for check in each.says)
    }
