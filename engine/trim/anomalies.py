"""What turning an adjuster cannot explain.

Purpose: hold each trial against what turning should have done, and say, as answers to checks of the knowledge, what
else it tells: no response, the wrong direction, a place that does not repeat, a drift while warming, easing that does
not calm.
Law: a finding needs both a size that a technician would see and readings that are far outside what the line allows with
its uncertainty. A surprise that fits nothing in particular is read again before it is believed.
Source: innovation test of a Kalman filter (textbook, from memory); the meaning of each: knowledge/checks.
Not here: what follows for the causes (see `Job`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from .response import Response
from .search import NextSetting
from .trial import Learned, Trial

SEEN = 0.6
"""Hz at 60 Hz that a turn should have moved a reading before its staying put says anything."""
FAR = 3.0
"""Standard deviations that a reading must be off."""
SURPRISE = 25.0
"""Squared distance of two readings from what was expected, in standard deviations, that is read again."""
REPEATS = 0.5
CLIMBS = 1.0
"""Hz at 60 Hz: more apart at one place is no repetition; more of a drift is one of warming."""
WARM = 15.0
"""Minutes that an engine takes to be warm."""
SAME = 0.07
"""Turns within which two places are one."""
MOST = 8
"""Trials after which a set that is still not right is no matter of adjustment."""


@dataclass(frozen=True, slots=True)
class Anomaly:
    """A check and its answer, with why. again: only to be read again, and no finding yet."""

    check: str
    answer: str
    why: str
    again: bool = False


def same(one: Sequence[float], other: Sequence[float]) -> bool:
    """Whether two places are the same, as far as turns can be told."""
    return all(abs(a - b) <= SAME for a, b in zip(one, other, strict=True))


def of_trial(coach: Learned, trial: Trial, line: Response, noise: Sequence[float]) -> tuple[Anomaly, ...]:
    """Findings of a trial beside those before it. line: moved to its place, not yet told of its readings."""
    scale = coach.scale
    found = _repeat(coach, trial)
    if found:
        return found
    before = coach.trials[-1]
    if same(before.place, trial.place):
        return ()
    value, old = trial.values[0], before.values[0]
    step = [to - at for to, at in zip(trial.place, before.place, strict=True)]
    turned = [k for k, part in enumerate(step) if abs(part) > SAME]
    if trial.hunts and before.hunts and coach.names[turned[0] if len(turned) == 1 else -1] == "sensitivity":
        calm = _not_calmed(coach, trial, before, step)
        if calm:
            return calm
    if trial.hunts or before.hunts or value is None or old is None:
        return ()
    mean, covariance = line.predict(trial.place)
    deviation = math.sqrt(covariance[0][0] + noise[0] ** 2)
    expected, moved = mean[0] - old, value - old
    if len(turned) == 1 and abs(expected) >= SEEN * scale and abs(moved - expected) > FAR * deviation:
        name = coach.names[turned[0]]
        check, answer = ("speed_adjuster_trial", "no_response") if name == "speed" else ("", "")
        what = f"The {name.replace('_', ' ')} was turned {step[turned[0]]:+g}, worth {expected:+.1f} Hz"
        if abs(moved) < 0.25 * abs(expected):
            return (Anomaly(check, answer, f"{what}; it moved {moved:+.1f}: no response."),)
        if moved * expected < 0.0 and abs(moved) >= 0.3 * scale:
            return (Anomaly(check, answer, f"{what}; it moved {moved:+.1f}: the wrong direction."),)
    if _distance(mean, covariance, trial.values, noise) > SURPRISE:
        return (Anomaly("", "", "The readings are far from what turning should have done.", again=True),)
    return ()


def _repeat(coach: Learned, trial: Trial) -> tuple[Anomaly, ...]:
    visits = [each for each in (*coach.trials, trial) if same(each.place, trial.place) and not each.hunts]
    values = [each.values[0] for each in visits if each.values[0] is not None]
    if len(values) < 2 or visits[-1] is not trial:
        return ()
    change = values[-1] - values[0]
    rises = [after - before for before, after in pairwise(values)]
    began = visits[0].minutes
    warming = (began is not None and began < WARM) or (len(rises) > 1 and len({rise > 0.0 for rise in rises}) == 1)
    if warming and abs(change) > CLIMBS * coach.scale:
        way = "climbs" if change > 0.0 else "falls"
        why = f"At one setting it went from {values[0]:.1f} to {values[-1]:.1f} Hz as it ran: it {way} while warming."
        return (Anomaly("frequency_change_warming", way, why),)
    apart = max(values) - min(values)
    if apart >= REPEATS * coach.scale:
        why = f"At one setting it read {min(values):.1f} and {max(values):.1f} Hz: it does not come back to its place."
        return (Anomaly("no_load_repeatability", f"{apart:.1f} Hz", why),)
    return ()


def _not_calmed(coach: Learned, trial: Trial, before: Trial, step: Sequence[float]) -> tuple[Anomaly, ...]:
    k = coach.names.index("sensitivity")
    if step[k] > -1.0:
        return ()
    turns = f"Easing the sensitivity {-step[k]:g} turns"
    if trial.swing is not None and before.swing and trial.swing > 1.25 * before.swing:
        return (Anomaly("sensitivity_trial", "swing_worse", f"{turns} made the swing worse."),)
    measured = [value for value in trial.values if value is not None]
    if len(measured) < len(trial.values):
        return ()
    if coach.edge.boundary.chance(coach.edge.measure(trial.place, measured), 0.2 * coach.scale) < 0.02:
        why = f"{turns} left it swinging, where no setting so slack should."
        return (Anomaly("sensitivity_trial", "swing_unchanged", why),)
    return ()


def of_search(coach: Learned, choice: NextSetting) -> tuple[Anomaly, ...]:
    """What it says of the set that no setting is good enough: asked before each step."""
    goal, names = coach.goal, coach.pair.readings
    if len(coach.trials) > MOST:
        return (Anomaly("", "", f"After {len(coach.trials)} trials no setting has met the limits."),)
    hunted = [each for each in coach.trials if each.hunts]
    edge, blur = coach.edge.boundary.edge
    if coach.edge.adjuster is None and hunted and edge - 2.0 * blur > goal.difference[1]:
        why = (
            f"It hunts until the fall is {edge:.1f} Hz, and the limit is {goal.difference[1]:.1f}: nothing gives both."
        )
        eased = ("sensitivity_trial", "swing_unchanged") if "sensitivity" in coach.names else ("", "")
        return (Anomaly(*eased, why),)
    if choice.success < 0.02:
        mean, _ = coach.line.predict(coach.line.at)
        for k, (limits, at) in enumerate(zip(coach.adjusters, coach.line.at, strict=True)):
            for way, end in ((-1.0, limits.lowest), (1.0, limits.highest)):
                slope = coach.line.slope(0, k)[0]
                wanted = (goal.target[0] - mean[0]) * slope * way > 0.0
                if wanted and abs(end - at) < limits.finest:
                    name = coach.names[k].replace("_", " ")
                    why = f"The {name} is at its end and {next(iter(names)).replace('_', ' ')} is not there."
                    check = ("speed_adjuster_trial", "no_response") if coach.names[k] == "speed" else ("", "")
                    return (Anomaly(*check, why),)
    return ()


def _distance(
    mean: Sequence[float], covariance: Sequence[Sequence[float]], values: Sequence[float | None], noise: Sequence[float]
) -> float:
    """Squared distance of readings from what is expected, in standard deviations; missing ones left out."""
    off = [None if value is None else value - middle for value, middle in zip(values, mean, strict=True)]
    a = covariance[0][0] + noise[0] ** 2
    if off[0] is None:
        return 0.0
    if len(off) == 1 or off[1] is None:
        return off[0] ** 2 / a
    b, d = covariance[0][1], covariance[1][1] + noise[1] ** 2
    determinant = a * d - b * b
    return (d * off[0] ** 2 - 2.0 * b * off[0] * off[1] + a * off[1] ** 2) / determinant
