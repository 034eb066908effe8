"""Danger: which readings hold a job, and by which limit.

Purpose: an answer to a check, a complaint, a reading of a load test, a trial or a recording is held against the
knowledge's danger limits; what stands at or above one is a hold.
Law: pure; a limit is a percentage of a rated value and is at home in the knowledge, with the checks it is about. An
answer that is not sure counts as one that is.
Not here: when a hold begins and ends (see `state`), and what is refused while it stands (see `job`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from ..compiler import Above, Catalogue, DangerLimit, Features
from ..loadtest import ReadingRow
from ..readings import Answer
from .generating_set import GeneratingSet

ANSWERS = ("present", "unsure")
"""Answers to a complaint that stops everything by which it holds."""
_UNITS = {"hertz": "Hz", "volts": "V"}
_HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class Hold:
    """One reason why a set must not run. limit: id of the danger limit, or of the complaint. finding: in words.

    value, at_least: the reading and the limit in `unit`; None where nothing was measured. cautions: their ids.
    taken_back: the finding was taken back, and nobody said that it was a mistake.
    """

    limit: str
    title: str
    finding: str
    cautions: tuple[str, ...]
    value: float | None = None
    at_least: float | None = None
    unit: str = ""
    taken_back: bool = False

    def __str__(self) -> str:
        bound = "" if self.at_least is None else f", and {self.at_least:.4g} {self.unit} is the limit"
        return f"{self.title}: {self.finding}{bound}{' (taken back)' if self.taken_back else ''}"

    def as_dict(self) -> dict[str, object]:
        """Plain values for JSON."""
        return {
            "limit": self.limit, "title": self.title, "finding": self.finding, "value": self.value,
            "at_least": self.at_least, "unit": self.unit, "cautions": list(self.cautions),
            "taken_back": self.taken_back,
        }  # fmt: skip


def resting(catalogue: Catalogue, here: str) -> str:
    """The set-up state that a set is in once it was shut down: the one that is nearest to where it is. One whose steps
    can be made on a set that runs is none."""
    if not catalogue.states[here].runs:
        return here
    served = catalogue.costs.serves.get(here, ())
    still = [name for name, state in catalogue.states.items() if not state.runs and name not in served]
    return min(still, key=lambda name: catalogue.costs.moves[here, name], default=here)


def lowest_that_holds(catalogue: Catalogue, features: Features, meter: str) -> float:
    """The lowest reading of a kind (hertz, highest_hertz, volts, highest_volts) that holds; infinite for none."""
    bounds = (_bound(limit, features) for limit in catalogue.danger.values() if meter in limit.meters)
    return min(bounds, default=float("inf"))


def of_complaint(genset: GeneratingSet, name: str, answer: str) -> tuple[Hold, ...]:
    """What a complaint holds."""
    complaint = genset.knowledge.complaints[name]
    if not complaint.stop_first or answer not in ANSWERS:
        return ()
    said = "said" if answer == "present" else "said, not sure"
    return (Hold(name, complaint.title, said, complaint.cautions),)


def may_come_of(genset: GeneratingSet, name: str, answer: Answer) -> bool:
    """Whether an answer to a check, for sure, is the sight of a fault by which a danger may come (see `risk`)."""
    check = genset.checks.get(name)
    if check is None or not answer.sure or not answer.outcomes:
        return False
    limits = genset.knowledge.catalogue.danger.values()
    seen = {outcome for limit in limits if limit.may_come for outcome in limit.may_come.seen.get(name, ())}
    return set(answer.outcomes) <= seen & check.mend.keys()


def unfit_by(genset: GeneratingSet, name: str, answer: Answer) -> bool:
    """Whether an answer to a look before any start shows a fault that is mended before the set runs: a leak of fuel,
    oil that is low."""
    looks = genset.knowledge.catalogue.costs.first_start.checks
    return name in looks and name in genset.checks and bool(genset.checks[name].mend.keys() & {*answer.outcomes})


def of_answer(genset: GeneratingSet, made: Mapping[str, Answer], name: str) -> tuple[Hold, ...]:
    """What the answer to a check holds, by itself and with the others of the same epoch. made: answers by check."""
    found: list[Hold] = []
    for limit in genset.knowledge.catalogue.danger.values():
        answer = made[name]
        if not answer.values and set(answer.outcomes) & set(limit.outcomes.get(name, ())):
            said = " or ".join(outcome.replace("_", " ") for outcome in answer.outcomes)
            found.append(Hold(limit.id, limit.title, f"{genset.checks[name].title}, {said}", limit.cautions))
        for check, above in limit.readings.items():
            if name not in (check, above.check) or check not in made or check not in genset.checks:
                continue
            found.extend(_beyond(genset, limit, made, check, above))
    return tuple(found)


def _highest(answer: Answer) -> float:
    """The highest point of a reading: of one that goes up and down, not its middle."""
    return max(answer.values) if answer.highest is None else answer.highest


def _beyond(
    genset: GeneratingSet, limit: DangerLimit, made: Mapping[str, Answer], check: str, above: Above
) -> Iterator[Hold]:
    if not made[check].values:
        return
    value = _highest(made[check])
    said = f"{genset.checks[check].title}, {value:.4g} {_UNITS.get(limit.of, '')}".rstrip()
    if above.check:
        base = made.get(above.check)
        if base is not None and base.values:
            start = _highest(base)
        elif above.or_rated:
            start = float(genset.features[limit.of])
        else:
            return
        value = start + above.share * value
        said += f" on {start:.4g}"
    yield from _held(limit, genset.features, value, said)


def of_meters(catalogue: Catalogue, features: Features, read: Mapping[str, float], where: str) -> tuple[Hold, ...]:
    """What readings hold that belong to no check. read: by kind (see `lowest_that_holds`). where: in words."""
    found: list[Hold] = []
    for limit in catalogue.danger.values():
        for meter in limit.meters:
            if meter in read:
                unit = _UNITS.get(limit.of, "")
                found.extend(_held(limit, features, read[meter], f"{where}, {read[meter]:.4g} {unit}".rstrip()))
    return tuple(found)


def of_row(catalogue: Catalogue, features: Features, row: ReadingRow, where: str) -> tuple[Hold, ...]:
    """What one reading of a load test holds: its speed, its voltage, and the peaks on the way to it."""
    read: dict[str, float] = {}
    speeds = [row.hertz.value] if row.hertz else []
    if row.rpm and "poles" in features:
        speeds.append(row.rpm.value * float(features["poles"]) / 120.0)
    if speeds:
        read["hertz"] = max(speeds)
    peaks = [row.highest.value] if row.highest else []
    if row.swing:
        peaks.append(max(speeds, default=float(features["hertz"])) + 0.5 * row.swing.value)
    if peaks:
        read["highest_hertz"] = max(peaks)
    if row.volts:
        read["volts"] = row.volts.value
    tops = [row.highest_volts.value] if row.highest_volts else []
    if row.volts_swing and row.volts:
        tops.append(row.volts.value + 0.5 * row.volts_swing.value)
    if tops:
        read["highest_volts"] = max(tops)
    return of_meters(catalogue, features, read, where)


def of_rows(catalogue: Catalogue, features: Features, rows: Iterable[ReadingRow]) -> tuple[Hold, ...]:
    """What the readings of a load test hold, each by its place."""
    return tuple(dict.fromkeys(hold for row in rows for hold in of_row(catalogue, features, row, row.place)))


def _held(limit: DangerLimit, features: Features, value: float, said: str) -> Iterator[Hold]:
    bound = _bound(limit, features)
    if value >= bound - _HAIR * max(1.0, bound):
        unit = _UNITS.get(limit.of, "")
        yield Hold(limit.id, limit.title, said, limit.cautions, round(value, 6), round(bound, 6), unit)


def _bound(limit: DangerLimit, features: Features) -> float:
    return limit.from_percent * float(features[limit.of]) / 100.0 if limit.of in features else float("inf")
