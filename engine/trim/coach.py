"""The adjusting coach: from trials to the next thing to turn.

Purpose: trials (places of the adjusters, readings, steady or hunting) in; out comes what to turn next, which way and
how far, what to expect of it, or that it is done, or that adjustment cannot be the whole story.
Law: a pure function of the trials and of the knowledge; the coach moves only by taking a trial, which gives a new one.
Method: recursive least squares with the slopes of governor theory as the prior (see `response`, which says why no
secant or Broyden step), a learned edge of hunting (`hunting`), the step with the highest chance to be right (`search`).
Not here: what each finding means for the causes (see `Job`), and asking (see the terminal).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from ..compiler import AdjusterPair, Features, Knowledge
from ..job import danger
from ..problems import HertzwrightError, close_to, quoted
from . import anomalies, response, search, stability_limit
from .anomalies import Anomaly
from .search import Goal, NextSetting, SettingSearch
from .trial import Trial

SURE = 0.95
"""Chance of being within the limits with which the coach stops: the margin over the noise of the meter."""


class TrimError(HertzwrightError):
    """A pair, a target or a trial that cannot be used."""


@dataclass(frozen=True, slots=True)
class NextTurn:
    """What to do next.

    kind: "begin" (give the first readings), "turn", "read again", "done", "diagnose" or "stop" (overspeed: shut down).
    step: turns of each adjuster. choice: what is expected after it, or of the place where the set stands. reasons: why,
    one sentence each. findings: what the trials say of the set beyond its adjustment.
    """

    kind: str
    step: tuple[float, ...] = ()
    choice: NextSetting | None = None
    reasons: tuple[str, ...] = ()
    findings: tuple[Anomaly, ...] = ()


def pair_of(knowledge: Knowledge, name: str, features: Features) -> AdjusterPair:
    """The pair that a name means; "speed+sensitivity" and "idle needle" will do. Raises TrimError."""
    known = knowledge.catalogue.pairs
    wanted = "_".join(name.lower().replace("+", " and ").replace("-", " ").replace("_", " ").split())
    pair = known.get(wanted)
    if pair is None:
        if not known:
            raise TrimError("this knowledge has no pairs of adjusters; trimming.yaml holds them")
        raise TrimError(f"no pair {quoted(name)}; {close_to(wanted, known, 'known are ' + ', '.join(known))}")
    if len(pair.response) > 2 or len(pair.readings) > 2:
        raise TrimError(
            f"{pair.title}: {len(pair.response)} adjusters and {len(pair.readings)} readings; expected at most 2"
        )
    if not pair.only_if.holds(features):
        raise TrimError(f"{pair.title}: this set has none of it by its features")
    return pair


def goal_of(
    knowledge: Knowledge,
    pair: AdjusterPair,
    features: Features,
    tolerance: str = "default",
    target: Sequence[float | None] = (),
) -> Goal:
    """Limits from a tolerance set, in Hz of this set, and where to aim. Raises AnswerError."""
    stated = knowledge.tolerance(tolerance).bands
    scale = float(features["hertz"]) / 60.0
    aimed = pair.target
    for other in pair.when:
        if other.condition.holds(features) and other.target:
            aimed = other.target

    def normal(name: str) -> tuple[float, float]:
        check = knowledge.checks[name]
        bands = stated.get(name) or (check.reading.bands if check.reading else ())
        fits = [(band.low * scale, band.high * scale) for band in bands if check.normal in band.outcomes]
        return fits[0] if fits else (-math.inf, math.inf)

    limits = [normal(name) for name in pair.readings.values()]
    difference = (-math.inf, math.inf)
    derived = [name for name, check in knowledge.checks.items() if check.derived_from == tuple(pair.readings.values())]
    if derived:
        difference = normal(derived[0])
    fastest, peak = (
        danger.lowest_that_holds(knowledge.catalogue, features, meter) for meter in ("hertz", "highest_hertz")
    )
    points = [
        base * scale if given is None else given for base, given in zip(aimed, _filled(target, aimed), strict=True)
    ]
    if len(points) == 2 and target and target[0] is not None and (len(target) < 2 or target[1] is None):
        points[1] = points[0] - (aimed[0] - aimed[1]) * scale
    low, high = tuple(low for low, _ in limits), tuple(high for _, high in limits)
    goal = Goal(low, high, difference, tuple(points), fastest, peak)
    return _around(goal, pair, target)


def _filled(target: Sequence[float | None], aimed: Sequence[float]) -> tuple[float | None, ...]:
    return tuple(target) + (None,) * (len(aimed) - len(target))


def _around(goal: Goal, pair: AdjusterPair, target: Sequence[float | None]) -> Goal:
    """A target of one's own moves the limits of that reading with it, as wide as they were."""
    low, high = list(goal.low), list(goal.high)
    for place, (name, given) in enumerate(zip(pair.readings, _filled(target, goal.target), strict=True)):
        if given is not None and not low[place] <= given < high[place]:
            half = 0.5 * (high[place] - low[place])
            if not math.isfinite(half):
                continue
            if abs(given - 0.5 * (high[place] + low[place])) > 4.0 * half + 3.0:
                raise TrimError(
                    f"target of {given:g} Hz for {name.replace('_', ' ')}; expected near {low[place]:.1f} to "
                    f"{high[place]:.1f} Hz, the limits for this set"
                )
            low[place], high[place] = given - half, given + half
    fits = goal.difference[0] <= goal.target[0] - goal.target[-1] < goal.difference[1]
    if len(goal.target) > 1 and not fits:
        raise TrimError(
            f"targets of {goal.target[0]:g} and {goal.target[-1]:g} Hz are {goal.target[0] - goal.target[-1]:.1f} Hz "
            f"apart; expected {goal.difference[0]:.1f} to {goal.difference[1]:.1f} Hz"
        )
    return replace(goal, low=tuple(low), high=tuple(high))


@dataclass(frozen=True, slots=True)
class Coach:
    """What has been learned of one set. Begin with `begin`; `after` a trial there is a new one."""

    pair: AdjusterPair
    goal: Goal
    close: float | None
    scale: float
    adjusters: tuple[search.TurnLimits, ...]
    names: tuple[str, ...]
    line: response.Response
    edge: search.Edge
    trials: tuple[Trial, ...] = ()
    findings: tuple[Anomaly, ...] = ()
    safe: int = 0
    """How many trials the set was made safe after."""
    puzzled: bool = False
    """The last readings were not what the line says: they are to be read again before they are believed."""

    @classmethod
    def begin(
        cls, knowledge: Knowledge, pair: AdjusterPair, features: Features, goal: Goal, close: float | None = None
    ) -> Coach:
        """A coach who knows theory and nothing of this set. close: Hz to which both targets are wanted, if they are."""
        scale = float(features["hertz"]) / 60.0
        slopes = [
            response.Slope(
                tuple(each * scale for each in moves.per_turn),
                moves.scale,
                tuple(each * scale for each in moves.scatter),
            )
            for moves in pair.response.values()
        ]
        names = tuple(pair.response)
        adjusters = []
        for name in names:
            made = knowledge.catalogue.adjusters[name]
            adjusters.append(search.TurnLimits(made.finest, made.longest, made.lowest, made.highest))
        below = pair.hunts_below
        for other in pair.when:
            if other.condition.holds(features) and other.below is not None:
                below = other.below
        own = names.index(pair.hunts_on) if pair.hunts_on in names else None
        unit = 1.0 if own is not None else scale
        edge = stability_limit.boundary(below * unit, pair.hunts_scatter * unit, pair.hunts_width * unit)
        line = response.prior((0.0,) * len(names), slopes, len(pair.readings), pair.bend * scale)
        tilted = search.Edge(edge, own, pair.hunts_per_hertz, pair.hunts_at * scale)
        return cls(pair, goal, close, scale, tuple(adjusters), names, line, tilted)

    def after(self, trial: Trial) -> Coach:
        """What is known after a trial. Raises TrimError for one that cannot be."""
        self._possible(trial)
        first = not self.trials
        line = replace(self.line, at=trial.place) if first else self.line.moved(trial.place)
        noise = self._noise(trial)
        found = () if first else anomalies.of_trial(self, trial, line, noise)
        puzzled = any(finding.again for finding in found) and not self.puzzled
        if not puzzled:
            line = line.learned(trial.values, noise)
        kept = tuple(finding for finding in found if not finding.again)
        edge = self.edge
        measured = [value for value in trial.values if value is not None]
        if trial.hunts is not None and len(measured) == len(trial.values):
            blur = self.scale * 0.1 if edge.adjuster is None else 0.0
            told = edge.boundary.learned(edge.measure(trial.place, measured), trial.hunts, blur)
            edge = replace(edge, boundary=told)
        return replace(
            self, line=line, edge=edge, trials=(*self.trials, trial), findings=(*self.findings, *kept), puzzled=puzzled
        )

    def _noise(self, trial: Trial) -> tuple[float, ...]:
        """Standard deviation of each reading. A swing spoils the first, which is the one with no load."""
        steady, swinging = (each * self.scale for each in self.pair.noise)
        return tuple(swinging if trial.hunts and place == 0 else steady for place in range(len(trial.values)))

    def _possible(self, trial: Trial) -> None:
        for name, limits, turns in zip(self.names, self.adjusters, trial.place, strict=True):
            reach = limits.highest - limits.lowest
            if not math.isfinite(turns) or not limits.lowest - reach <= turns <= limits.highest + reach:
                raise TrimError(
                    f"{name.replace('_', ' ')} at {turns:g} turns; expected {limits.lowest:g} to {limits.highest:g}"
                )
        low, high = 20.0, 150.0
        for reading, value in zip(self.pair.readings, trial.values, strict=True):
            if value is not None and not low <= value <= high:
                raise TrimError(f"{reading.replace('_', ' ')} of {value:g} Hz; expected {low:g} to {high:g} Hz")

    @property
    def wanted(self) -> Goal:
        """The limits that a setting has to meet."""
        return self.goal if self.close is None else self.goal.near(self.close)

    @property
    def aim(self) -> SettingSearch:
        """The search from where the set stands."""
        steady = bool(self.trials) and self.trials[-1].hunts is False
        walked = any(now.hunts and not before.hunts for before, now in pairwise(self.trials))
        return SettingSearch(self.wanted, self.line, self.edge, self.adjusters, steady, walked)

    @property
    def held(self) -> tuple[str, ...]:
        """Why the set must not run: overspeed in any trial that nobody made it safe after, one sentence each."""
        told: dict[str, None] = {}
        for trial in self.trials[self.safe :]:
            fastest = max((value for value in trial.values if value is not None), default=0.0)
            top = fastest + 0.5 * (trial.swing or 0.0)
            if fastest >= self.goal.overspeed:
                told[f"{fastest:.1f} Hz is overspeed, from {self.goal.overspeed:.1f} Hz on."] = None
            elif top >= self.goal.peak:
                told[f"{top:.1f} Hz, the top of a swing, is overspeed, from {self.goal.peak:.1f} Hz on."] = None
        return tuple(told)

    def secured(self) -> Coach:
        """After the set was shut down and its throttle proven to close: the trials so far hold no longer."""
        return replace(self, safe=len(self.trials))

    def advice(self) -> NextTurn:
        """What to do next."""
        if not self.trials:
            return NextTurn("begin", reasons=("First the readings as found, before anything is turned.",))
        last = self.trials[-1]
        if self.held:
            return NextTurn("stop", reasons=self.held, findings=self.findings)
        if self.findings:
            return NextTurn("diagnose", reasons=tuple(each.why for each in self.findings), findings=self.findings)
        if self.puzzled:
            reason = (
                "The readings are not what turning should have done, so read them again here before they are believed."
            )
            return NextTurn("read again", (0.0,) * len(self.names), self.aim.choice(last.place), (reason,))
        here = self.aim.choice(self.line.at)
        mean, covariance = self.line.predict(self.line.at)
        inside = self.within(mean, covariance, self.wanted)
        if last.hunts is False and self.wanted.holds(last.values) and inside >= SURE:
            return NextTurn("done", (0.0,) * len(self.names), replace(here, success=inside), self._done(inside))
        if None in last.values or last.hunts is None:
            reason = "Read every load here, and see whether it swings."
            return NextTurn("read again", (0.0,) * len(self.names), here, (reason,))
        choice = self.aim.best()
        stuck = anomalies.of_search(self, choice)
        if stuck:
            return NextTurn("diagnose", choice=choice, reasons=tuple(each.why for each in stuck), findings=stuck)
        step = tuple(to - at for to, at in zip(choice.place, self.line.at, strict=True))
        return NextTurn("turn", step, choice, self._why(step, choice, here))

    def within(self, mean: response.Vector, covariance: response.Matrix, goal: Goal) -> float:
        """Chance that the true values lie within limits, hunting apart."""
        calm = replace(self.edge, boundary=stability_limit.boundary(-1e6, 1.0, 1.0))
        return SettingSearch(goal, self.line, calm, self.adjusters, True).success(self.line.at, mean, covariance)

    def in_order(self, step: Sequence[float]) -> tuple[tuple[str, float], ...]:
        """The adjusters that are turned, with their turns: first what lowers the first reading, which is the one with
        no load, so that the set runs no faster on the way than before or after."""
        moved = [
            (self.line.slope(0, k)[0] * part, name, part)
            for k, (name, part) in enumerate(zip(self.names, step, strict=True))
            if part
        ]
        return tuple((name, part) for _, name, part in sorted(moved))

    def _done(self, inside: float) -> tuple[str, ...]:
        room = f"Within the limits with a chance of {100 * inside:.0f} %, after the error of the meter, and steady."
        return (room, "Lock the adjusters and read once more, because locking can move them.")

    def _why(self, step: Sequence[float], choice: NextSetting, here: NextSetting) -> tuple[str, ...]:
        """Sentences: what is wanted, why one or both, and what keeps it from hunting."""
        last, reasons = self.trials[-1], []
        if last.hunts:
            room = (
                "far enough to stay clear of the edge" if choice.hunting < 0.15 else "as far as the limits leave room"
            )
            reasons.append(f"It hunts, so it is eased first, {room}.")
        turned = [k for k, part in enumerate(step) if part]
        if len(self.names) == 2 and len(turned) == 2:
            if choice.success < choice.alone + 0.03:
                reasons.append("Both at once, since the two together keep further from hunting.")
            else:
                known = "one alone cannot reach it" if choice.alone < 0.05 else "what a turn does is known well enough"
                reasons.append(
                    f"Both at once, since {known}: {100 * choice.success:.0f} % to be right, "
                    f"against {100 * choice.alone:.0f} % with one alone."
                )
        elif len(self.names) == 2:
            reasons.append("One alone: the other would gain too little for what it would leave unsure.")
        edge, _ = self.edge.boundary.edge
        if self.edge.adjuster is None and choice.hunting > 0.02:
            fall = choice.mean[0] - choice.mean[-1]
            reasons.append(
                f"Hunting is expected to begin at about {edge:.1f} Hz of fall; this goes for {fall:.1f} Hz "
                f"({100 * choice.hunting:.0f} % chance to hunt)."
            )
        return tuple(reasons)

    def shown_slopes(self) -> Mapping[str, tuple[tuple[float, float], ...]]:
        """Hz a turn with its standard deviation, for each adjuster and reading."""
        return {
            name: tuple(self.line.slope(reading, k) for reading in range(len(self.pair.readings)))
            for k, name in enumerate(self.names)
        }


def facts_of(coach: Coach, knowledge: Knowledge, features: Features, advice: NextTurn) -> tuple[tuple[str, str], ...]:
    """What the trials say of the set, as (check, answer) that a job takes: the readings as found, then the findings.

    Later readings are those of another setting, so only what turning itself has shown is taken from them.
    """
    if not coach.trials:
        return ()
    first, pair = coach.trials[0], coach.pair
    found = [
        (check, f"{value:.1f} Hz") for check, value in zip(pair.readings.values(), first.values, strict=True)
        if value is not None
    ]  # fmt: skip
    # A dangerous reading of a later trial goes first: the one as found, which follows, does not lift what it holds.
    fast = [
        (check, f"{value:.1f} Hz")
        for trial in coach.trials[max(1, coach.safe) :]
        for check, value in zip(pair.readings.values(), trial.values, strict=True)
        if value is not None and value >= coach.goal.overspeed and knowledge.applies(check, features)
    ]
    if first.hunts is not None:
        size = f"{first.swing:.1f} Hz slow_swing" if first.swing else "slow_swing"
        found.append((pair.swing, size if first.hunts else "steady"))
    told = [(each.check, each.answer) for each in advice.findings if each.check]
    named = {check for check, _ in told}
    steps = [
        (before, now, [to - at for to, at in zip(now.place, before.place, strict=True)])
        for before, now in pairwise(coach.trials)
    ]
    if "speed" in coach.names and "speed_adjuster_trial" not in named:
        k = coach.names.index("speed")
        if any(step[k] > 0.0 for _, _, step in steps) and any(step[k] < 0.0 for _, _, step in steps):
            slope, deviation = coach.line.slope(0, k)
            if slope > 3.0 * deviation:
                told.append(("speed_adjuster_trial", "follows"))
    if "sensitivity" in coach.names and "sensitivity_trial" not in named:
        k = coach.names.index("sensitivity")
        if any(before.hunts and now.hunts is False and step[k] < 0.0 for before, now, step in steps):
            told.append(("sensitivity_trial", "swing_stops"))
    kept: dict[str, str] = {}
    for check, answer in (*found, *told):
        if knowledge.applies(check, features):
            kept[check] = answer
    return (*dict.fromkeys(fast), *kept.items())


def order_of(coach: Coach, knowledge: Knowledge) -> tuple[tuple[str, str], ...]:
    """What comes before turning, by the order of work: (title, why), each once."""
    remedies = {knowledge.catalogue.adjusters[name].remedy for name in coach.names}
    found: dict[str, str] = {}
    for rule in knowledge.catalogue.order.values():
        if rule.kind == "do_again" or not remedies & set(rule.after):
            continue
        for step in rule.before:
            if step in remedies:
                continue
            item = knowledge.checks.get(step) or knowledge.remedies.get(step)
            if item is not None:
                found.setdefault(item.title, rule.why)
    return tuple(found.items())
