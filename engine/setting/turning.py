"""Turning for a step of setting: what the trials so far say of the next turn.

Purpose: the readings taken after each turn, as trials of the adjusting coach where a step turns a pair, or as places
on a line where it turns one adjuster alone; the next turn, that it is right, or that turning does not do it.
Law: a pure function of the turns and readings handed in; how far a turn goes is bounded as the adjuster says.
Not here: which readings still count (see `progress`), what a set that does not answer has (see the job's diagnosis).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from ..compiler import AdjusterPair, Check, Features, Knowledge, SettingStep
from ..readings import Answer
from ..trim import Coach, NextTurn, Trial, TrimError, goal_of, pair_of

SAME = 0.07
"""Turns within which two places are one."""
MOST = 8
"""Turns of one adjuster after which a set that is still not right is no matter of turning."""
ANSWERS = 0.25
"""Share of what a turn should do, below which the set does not answer to it."""
WORDS_SAY = 5.0
"""Hz at 60 Hz that turns are worth, after which a reading that stays the same word has not answered to them."""


@dataclass(frozen=True, slots=True)
class AdjusterPlace:
    """Where the adjusters stood, turns since the set was found, and what was read there, by check.

    own: whether the step itself turned them there.
    """

    turns: Mapping[str, float]
    readings: Mapping[str, Answer] = field(default_factory=dict)
    own: bool = False

    def at(self, other: AdjusterPlace, but: str = "") -> bool:
        """Whether all adjusters stand where they stand in another place. but: one that does not count."""
        names = {*self.turns, *other.turns} - {but}
        return all(abs(self.turns.get(name, 0.0) - other.turns.get(name, 0.0)) <= SAME for name in names)


@dataclass(frozen=True, slots=True)
class Turning:
    """What the places so far come to. kind: "read" (not all is read here), "right", "turn", "unread" (nobody can
    read it) or "stuck".

    step: turns, by adjuster. expected: reading -> Hz that are expected after it. why: one sentence each. findings:
    (check, answer) that turning itself has shown.
    """

    kind: str
    step: Mapping[str, float] = field(default_factory=dict)
    expected: Mapping[str, float] = field(default_factory=dict)
    why: tuple[str, ...] = ()
    findings: tuple[tuple[str, str], ...] = ()


def by_pair(
    knowledge: Knowledge, features: Features, tolerance: str, step: SettingStep, places: Sequence[AdjusterPlace]
) -> Turning:
    """What a pair's coach says of places; one where not all of the pair was read teaches nothing."""
    if not places:
        return Turning("read")
    pair = pair_of(knowledge, step.pair, features)
    last = places[-1].readings
    if not {*pair.readings.values(), pair.swing} <= last.keys():
        return Turning("read")
    unread = [knowledge.checks[name].title for name in pair.readings.values() if not last[name].values]
    if unread:
        return Turning("unread", why=(f"{', '.join(unread)}: without a figure nothing is turned.",))
    steady = knowledge.checks[pair.swing].normal
    for name in _swings(knowledge, step, pair):
        swing = last.get(name)
        if swing is None or not swing.outcomes or {steady, "slow_swing"} & set(swing.outcomes):
            continue
        # A shake or a wander is no hunting: easing the governor does nothing for it, but where it is hardly more than
        # the meter can tell from steady: what the engine does by itself is then passed on by a sharp governor.
        if not hardly_more(knowledge.checks[name], swing):
            told = f"{knowledge.checks[name].title}: {swing.text}, which no turn takes away."
            return Turning("stuck", why=(told,))
    if len(places) > 2 * MOST:
        return Turning("stuck", why=(f"After {len(places)} readings it is not right.",))
    try:
        coach = _coach(knowledge, features, tolerance, step, pair, places)
        said = coach.advice()
    except TrimError as error:
        return Turning("stuck", why=(str(error),))
    if said.kind == "done":
        more = _further_inside(knowledge, features, tolerance, step, coach, places)
        return more or Turning("right", why=said.reasons)
    if said.kind in ("diagnose", "stop"):
        found = tuple((each.check, each.answer) for each in said.findings if each.check)
        back = _way_back(coach) if said.kind == "diagnose" else {}
        if back:
            return Turning("turn", back, why=(*said.reasons, "It goes back to where it stood best."))
        return Turning("stuck", why=said.reasons, findings=found)
    if said.kind == "read again":
        return Turning("read", why=said.reasons)
    return _turn(coach, said)


def _turn(coach: Coach, said: NextTurn, *why: str) -> Turning:
    turns = dict(coach.in_order(said.step))
    mean = said.choice.mean if said.choice is not None else ()
    return Turning("turn", turns, dict(zip(coach.pair.readings, mean, strict=False)), (*why, *said.reasons))


def carried(knowledge: Knowledge, step: SettingStep) -> tuple[str, ...]:
    """The checks of a step that turns a pair which the speed carries along: voltages, read at the pair's last load."""
    if not step.pair:
        return ()
    readings = ((name, knowledge.checks[name].reading) for name in step.accepts)
    return tuple(name for name, reading in readings if reading is not None and reading.scale == "rated_volts")


HOPE = 0.2
"""Chance of a setting further inside, below which what there is is good enough."""


def _further_inside(
    knowledge: Knowledge, features: Features, tolerance: str, step: SettingStep, coach: Coach,
    places: Sequence[AdjusterPlace],
) -> Turning | None:  # fmt: skip
    """A turn further inside the limits, where all reads right but nearer to one than the meter is true, or with a
    voltage that is low for want of speed; None where that is not so, or can hardly be had."""
    if coach.aim.walked:
        return None  # it was walked into hunting once, and stands right: that is as far inside as it goes
    goal, values = coach.goal, coach.trials[-1].values
    low, high, target = goal.low, goal.high, goal.target
    volts = _speed_for_the_volts(knowledge, features, tolerance, step, values[-1], places[-1])
    if volts is not None and values[-1] is not None:
        told, wanted = volts
        low = (*low[:-1], max(low[-1], wanted))
        shifted = ((aim + wanted - values[-1], 0.5 * (end + aim)) for aim, end in zip(target, high, strict=True))
        target = tuple(min(pair) for pair in shifted)
    else:
        told = "It reads right, and nearer to the limit than the meter is true."
        readings = [knowledge.checks[name].reading for name in coach.pair.readings.values()]
        unsure = [reading.uncertainty * coach.scale if reading is not None else 0.0 for reading in readings]
        low = tuple(limit + own for limit, own in zip(low, unsure, strict=True))
        high = tuple(limit - own for limit, own in zip(high, unsure, strict=True))
    inner = replace(coach, goal=replace(goal, low=low, high=high, target=target))
    if inner.goal.holds(values):
        return None
    said = inner.advice()
    if said.kind == "turn" and said.choice is not None and said.choice.success >= HOPE:
        return _turn(coach, said, told)
    return None


def _speed_for_the_volts(
    knowledge: Knowledge, features: Features, tolerance: str, step: SettingStep, now: float | None, place: AdjusterPlace
) -> tuple[str, float] | None:
    """What is low, and the speed at the pair's last load, in Hz, at which that voltage would be right; None for none.

    A voltage that falls as the speed does or faster would be right at this speed times what it lacks; where that is
    above rated, speed is not what it lacks.
    """
    stated = knowledge.tolerance(tolerance).bands
    for name in carried(knowledge, step):
        answer, check = place.readings.get(name), knowledge.checks[name]
        if answer is None or not answer.values or now is None or check.reading is None:
            continue
        bands = stated.get(name) or check.reading.bands
        least = next(band.low for band in bands if check.normal in band.outcomes) * float(features["volts"])
        wanted = now * least / answer.values[0]
        if now < wanted <= float(features["hertz"]):
            return f"{check.title}: {answer.text}, which is low for want of speed.", wanted
    return None


BETTER = 0.3
"""Hz at 60 Hz by which another place has to be nearer to its limits to be gone back to."""


def _way_back(coach: Coach) -> dict[str, float]:
    """Turns back to the best place that was read, or from one that did nothing to the one before; empty for none.

    What is asked after turning has ended is asked of the set as it is left: one that was turned far off its speed in
    the last attempt would be taken for one with a fault that does so.
    """
    last = coach.trials[-1]
    away = [number for number, trial in enumerate(coach.trials) if not _same(trial.place, last.place)]
    if not away or any(_same(trial.place, last.place) for trial in coach.trials[: away[-1]]):
        return {}  # nothing was turned, or it has come back already
    best = min(coach.trials, key=lambda trial: _beyond(coach, trial))
    if any(finding.answer == "no_response" for finding in coach.findings):
        best = coach.trials[away[-1]]
    elif _beyond(coach, last) - _beyond(coach, best) < BETTER * coach.scale:
        return {}
    turns = zip(coach.names, best.place, last.place, strict=True)
    return {name: to - at for name, to, at in turns if abs(to - at) > SAME}


def _same(one: Sequence[float], other: Sequence[float]) -> bool:
    return all(abs(a - b) <= SAME for a, b in zip(one, other, strict=True))


def _beyond(coach: Coach, trial: Trial) -> float:
    """Hz by which the readings of a trial lie beyond their limits, its swing among them."""
    goal, known = coach.goal, [value for value in trial.values if value is not None]
    if len(known) < len(goal.low):
        return math.inf
    ends = [*zip(goal.low, known, goal.high, strict=True)]
    if len(known) > 1:
        ends.append((goal.difference[0], known[0] - known[-1], goal.difference[1]))
    off = math.fsum(max(low - value, value - high, 0.0) for low, value, high in ends)
    return off + ((trial.swing or coach.scale) if trial.hunts else 0.0)


def puzzled(
    knowledge: Knowledge, features: Features, tolerance: str, step: SettingStep, places: Sequence[AdjusterPlace]
) -> bool:
    """Whether the readings here are to be taken once more before they are believed."""
    pair = pair_of(knowledge, step.pair, features)
    try:
        return _coach(knowledge, features, tolerance, step, pair, places).puzzled
    except TrimError:
        return False


def _coach(
    knowledge: Knowledge, features: Features, tolerance: str, step: SettingStep, pair: AdjusterPair,
    places: Sequence[AdjusterPlace],
) -> Coach:  # fmt: skip
    coach = Coach.begin(knowledge, pair, features, goal_of(knowledge, pair, features, tolerance))
    swings = _swings(knowledge, step, pair)
    for place in places:
        trial = _trial(pair, coach.names, place, swings, knowledge.checks[pair.swing].normal)
        if trial is not None:
            coach = coach.after(trial)
    return coach


def _swings(knowledge: Knowledge, step: SettingStep, pair: AdjusterPair) -> tuple[str, ...]:
    """The swings that a step reads, at whatever load: those that are told in the words of the pair's own."""
    words = tuple(knowledge.checks[pair.swing].outcomes)
    others = (name for name in step.accepts if tuple(knowledge.checks[name].outcomes) == words)
    return tuple(dict.fromkeys((pair.swing, *others)))


IN_DOUBT = 0.15
"""Chance, by the error of a reading, that what was read as not right is right: one standard error beyond the limit."""


NOT_PROVEN = 0.023
"""The same for two standard errors, from which on a reading is proven to be beyond (ISO 14253-1, coverage factor 2;
from memory)."""


def hardly_more(check: Check, answer: Answer, least: float = IN_DOUBT) -> bool:
    """Whether an answer that is not right lies no further beyond its limit than its reading is unsure. least: chance of
    being right all the same, from which it counts so."""
    return dict(answer.fits).get(check.normal, 0.0) >= least


def _trial(
    pair: AdjusterPair, names: Sequence[str], place: AdjusterPlace, swings: Sequence[str], steady: str
) -> Trial | None:
    """A place as a trial; None where something is not read. A reading that nobody could take says nothing."""
    if not {*pair.readings.values(), pair.swing} <= place.readings.keys():
        return None
    values = tuple(
        answer.values[0] if (answer := place.readings[check]).values else None for check in pair.readings.values()
    )
    seen = [place.readings[name] for name in swings if name in place.readings and place.readings[name].outcomes]
    hunting = [swing for swing in seen if steady not in swing.outcomes]
    size = max((swing.values[0] for swing in hunting if swing.values), default=None)
    return Trial(tuple(place.turns.get(name, 0.0) for name in names), values, bool(hunting), size)


BESIDE = 1.0
"""Hz at 60 Hz that a reading without a figure is taken to lie beyond the limit that it is said to be beyond."""


def _figure(check: Check, answer: Answer, scale: float) -> float | None:
    """A reading in figures; one that was told in a word is taken to lie a little beyond its limit."""
    if answer.values:
        return answer.values[0]
    for band in check.reading.bands if check.reading is not None else ():
        if set(answer.outcomes) & set(band.outcomes) and check.normal not in band.outcomes:
            edge = band.high - BESIDE if math.isinf(band.low) else band.low + BESIDE
            return edge * scale if math.isfinite(edge) else None
    return None


def by_adjuster(
    knowledge: Knowledge, features: Features, step: SettingStep, check: str, places: Sequence[AdjusterPlace]
) -> Turning:
    """The next turn of one adjuster by the last readings of a check: along what a turn does by the knowledge, or did.

    The last reading is not right yet. What did nothing is turned back before it is said to do nothing: once the fault
    behind it is cured, the set would run away with it.
    """
    catalogue = knowledge.catalogue
    adjuster = catalogue.adjusters[step.adjuster]
    scale = float(features["hertz"]) / 60.0
    pair, at = next(
        (pair, list(pair.readings.values()).index(check))
        for pair in catalogue.pairs.values()
        if step.adjuster in pair.response and check in pair.readings.values()
    )
    aim = pair.target[at]
    for other in pair.when:
        aim = other.target[at] if other.target and other.condition.holds(features) else aim
    slope = pair.response[step.adjuster].per_turn[at] * scale
    read = [
        (place, value)
        for place in places
        if check in place.readings
        and (value := _figure(knowledge.checks[check], place.readings[check], scale)) is not None
    ]
    if not read:
        return Turning("stuck", why=(f"{knowledge.checks[check].title}: without a figure nothing is turned.",))
    (place, now), title = read[-1], adjuster.title
    here = place.turns.get(step.adjuster, 0.0)
    trail = [each for each, _ in read]
    told = _unanswered(trail, step.adjuster, check, slope, scale)
    if told:
        began = trail[0].turns.get(step.adjuster, 0.0)
        why = f"{title} turned {told}."
        if abs(began - here) >= adjuster.finest:
            return Turning("turn", {step.adjuster: began - here}, why=(why, "It goes back to where it stood."))
        return Turning("stuck", why=(why,), findings=tuple(step.no_response.items()))
    away = [number for number, each in enumerate(trail) if not each.at(trail[0])]
    if away and place.at(trail[0]):
        told = _unanswered(trail[: away[-1] + 1], step.adjuster, check, slope, scale)
        if told:
            return Turning("stuck", why=(f"{title} turned {told}.",), findings=tuple(step.no_response.items()))
    turned, moved = _last_turn(trail, step.adjuster, check)
    if abs(turned * slope) >= 0.6 * scale:
        slope *= min(2.5, max(0.4, moved / (turned * slope)))
    if sum(each.own for each in places) > MOST:
        return Turning("stuck", why=(f"After {MOST} turns it is not right.",))
    wanted = (aim * scale - now) / slope
    turns = max(-adjuster.longest, min(adjuster.longest, round(wanted / adjuster.finest) * adjuster.finest))
    ended = min(adjuster.highest, max(adjuster.lowest, here + turns)) - here
    if abs(ended) < adjuster.finest:
        why = f"{title} is at its end, {here:+g} turns from where it was found, and it reads {now:.1f} Hz."
        return Turning("stuck", why=(why,), findings=tuple(step.no_response.items()))
    why = f"It reads {now:.1f} Hz and belongs at {aim * scale:.1f}; a turn is worth about {abs(slope):.2f} Hz."
    name = list(pair.readings)[at]
    return Turning("turn", {step.adjuster: ended}, {name: now + ended * slope}, (why,))


def _last_turn(trail: Sequence[AdjusterPlace], adjuster: str, check: str) -> tuple[float, float]:
    """The last turn of an adjuster alone and what it moved, both from figures; 0 and 0 where there is none."""
    if len(trail) < 2 or not trail[-1].at(trail[-2], but=adjuster):
        return 0.0, 0.0
    before, now = (place.readings[check].values for place in trail[-2:])
    turned = trail[-1].turns.get(adjuster, 0.0) - trail[-2].turns.get(adjuster, 0.0)
    if not before or not now or abs(turned) <= 0.25:
        return 0.0, 0.0
    return turned, now[0] - before[0]


def _unanswered(trail: Sequence[AdjusterPlace], adjuster: str, check: str, slope: float, scale: float) -> str:
    """How turning was not answered, in words; empty where it was, or where nothing can be said of it."""
    turned, moved = _last_turn(trail, adjuster, check)
    if abs(turned * slope) >= 0.6 * scale and moved / (turned * slope) < ANSWERS:
        answer = "no response" if abs(moved) < ANSWERS * abs(turned * slope) else "the wrong direction"
        return f"{turned:+g}, worth {turned * slope:+.1f} Hz; it moved {moved:+.1f}: {answer}"
    last = trail[-1].readings[check]
    same: list[AdjusterPlace] = []
    for place in reversed(trail):
        answer_there = place.readings[check]
        if answer_there.values or answer_there.outcomes != last.outcomes or not place.at(trail[-1], but=adjuster):
            break
        same.append(place)
    if not same:
        return ""
    turned = same[0].turns.get(adjuster, 0.0) - same[-1].turns.get(adjuster, 0.0)
    if abs(turned * slope) < WORDS_SAY * scale:
        return ""
    return f"{turned:+g}, worth {turned * slope:+.1f} Hz; it reads as before: no response"
