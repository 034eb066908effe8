"""What was found on the set, turned into the weights and clues that `belief` solves.

Purpose: findings, complaints and remedies in, tables out.

The life of a cause. A remedy ends one epoch of the set's condition and begins the next (epoch 0 is as found). A cause
is there from the start; a remedy that cures it removes it with its chance. So the states of a part are
"sound", "cause c until epoch n" and "cause c still there"; a finding is conditioned on the causes there in its epoch.

The same draw. Whether a cause makes a certain check show is one draw per set: looking again at the same check, or at
a check of the same group (quarter, half, full load), uses the same draw at another strength, so it brings no new
chance; a second look on an unchanged set adds nothing. A proof run is drawn afresh each time (see `graph.PROOF_RUN`).
The leak holds both misreadings, drawn afresh at each look, and
things that no listed cause explains, which are there again at the next look: `again` is the share of the latter.

Complaints stand in for their checks. A check that was made takes the place of the complaint where it shows what the
complaint says; where it does not, the complaint still speaks for its other checks.

Less sure never counts for more. An answer that is not sure is a true look with one chance and no look at all with the
rest: its likelihood is its least value for every outcome, and what is above that for the outcomes it fits. What the
look does to a complaint it does with the same chance and by the outcome that is really there. So the posterior is a
weighted mean of the one after the sure answer and the one without it.

Law: pure; the same findings in the same order give the same tables.
Source: persistence after a repair as in Breese and Heckerman, UAI 1996; the shared draw is our own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise, product
from math import fsum, prod

from ..compiler import PROOF_RUN, Network, one_draw
from .elimination import Clue, Matrix


@dataclass(frozen=True, slots=True)
class Finding:
    """One answer. `likelihood[i]` is P(this answer | outcome i); a sure answer is 1 for one outcome, 0 elsewhere."""

    check: str
    epoch: int
    likelihood: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Complaining:
    """A complaint heard in an epoch. `if_so`, `if_not`: P(this answer | the checks would show it / would not)."""

    complaint: str
    epoch: int
    if_so: float
    if_not: float


@dataclass(frozen=True, slots=True)
class CauseSpan:
    """One state of a part: `cause` None is sound; the cause was there in epochs 0 to `last`."""

    cause: str | None
    last: int


@dataclass(frozen=True, slots=True)
class Tables:
    """Input for `belief.solve`, with what each number belongs to.

    `lives[part][state]` names the states; `facts[i]` are the (check or complaint, epoch) that clue i holds.
    """

    lives: tuple[tuple[CauseSpan, ...], ...]
    weights: tuple[tuple[float, ...], ...]
    clues: tuple[Clue, ...]
    facts: tuple[tuple[tuple[str, int], ...], ...]
    now: int


@dataclass(frozen=True, slots=True)
class _Item:
    check: str
    epoch: int
    classes: tuple[int, ...]  # class of each outcome; -1 is ruled out for good
    likelihood: tuple[float, ...]  # of each class
    unseen: float  # the part of the likelihood that is no look at all: the same for every outcome


@dataclass(frozen=True, slots=True)
class _Claim:
    """A complaint on the items of a cluster: which classes of which item it speaks of.

    `classes` holds the items without an answer, and those whose answer leaves open whether it takes their place.
    """

    mode: str
    classes: Mapping[int, frozenset[int]]
    if_so: float
    if_not: float

    def chance(self, at: Mapping[int, int], looked: frozenset[int]) -> float:
        """P(what was said | the class of each item), where the items in `looked` were really looked at."""
        waiting = []
        for place, wanted in self.classes.items():
            shown = at[place] in wanted
            if place not in looked:
                waiting.append(shown)
            elif shown and self.mode == "any":
                return 1.0  # the check shows it: it has taken the complaint's place
        if not waiting:
            return 1.0
        return self.if_so if (any(waiting) if self.mode == "any" else all(waiting)) else self.if_not


def tables(
    network: Network,
    priors: Mapping[str, float],
    findings: Sequence[Finding],
    reports: Sequence[Complaining] = (),
    remedies: Sequence[str] = (),
    memo: dict[object, Clue] | None = None,
    again: float = 0.0,
) -> Tables:
    """Weights and clues for everything known of a set.

    priors: cause id -> prior on this set; 0 removes the cause.
    findings: at most one per check and epoch (the latest answer).
    remedies: ids in the order carried out; remedy n ends epoch n.
    again: chance that what the leak shows at one look it shows at every look (in other epochs).
    memo: clues made before for the same network and priors, kept by the caller from one answer to the next.
    """
    lives, weights = _lives(network, priors, remedies)
    clues: list[Clue] = []
    facts: list[tuple[tuple[str, int], ...]] = []
    for members, heard in _clusters(network, findings, reports):
        key = (tuple(members), tuple(heard), tuple(remedies))
        clue = None if memo is None else memo.get(key)
        if clue is None:
            clue = _clue(network, lives, members, heard, again)
            if memo is not None:
                memo[key] = clue
        clues.append(clue)
        facts.append(
            tuple((item.check, item.epoch) for item in members if not _waiting(item))
            + tuple((report.complaint, report.epoch) for report in heard)
        )
    return Tables(lives, weights, tuple(clues), tuple(facts), len(remedies))


def _lives(
    network: Network, priors: Mapping[str, float], remedies: Sequence[str]
) -> tuple[tuple[tuple[CauseSpan, ...], ...], tuple[tuple[float, ...], ...]]:
    lives: list[tuple[CauseSpan, ...]] = []
    weights: list[tuple[float, ...]] = []
    now = len(remedies)
    for causes in network.parts.values():
        states = [CauseSpan(None, -1)]
        values = [1.0 - fsum(priors.get(cause, 0.0) for cause in causes)]
        for cause in causes:
            left = priors.get(cause, 0.0)
            if left <= 0.0:
                continue
            for epoch, remedy in enumerate(remedies):
                chance = network.cures[remedy].get(cause, 0.0)
                if chance > 0.0:
                    states.append(CauseSpan(cause, epoch))
                    values.append(left * chance)
                    left *= 1.0 - chance
            states.append(CauseSpan(cause, now))
            values.append(left)
        if len(states) > 1:
            lives.append(tuple(states))
            weights.append(tuple(values))
    return tuple(lives), tuple(weights)


def _clusters(
    network: Network, findings: Sequence[Finding], reports: Sequence[Complaining]
) -> list[tuple[list[Finding], list[Complaining]]]:
    """Findings that share a draw, and complaints with what they stand in for, belong in one clue."""
    made = {(finding.check, finding.epoch): finding for finding in findings}
    entries: dict[tuple[str, int], Finding] = dict(made)
    links: dict[str, str] = {}

    def root(name: str) -> str:
        while links.get(name, name) != name:
            name = links[name]
        return name

    heard: list[tuple[Complaining, str]] = []
    for report in reports:
        waiting = _waiting_for(network, report, made)
        if not waiting:
            continue
        for check in waiting:
            silent = Finding(check, report.epoch, (1.0,) * len(network.leak[check]))
            entries.setdefault((check, report.epoch), silent)
            links[root(network.group[check])] = root(network.group[waiting[0]])
        heard.append((report, network.group[waiting[0]]))
    clusters: dict[str, tuple[list[Finding], list[Complaining]]] = {}
    for entry in entries.values():
        # What a cause shows in one proof run says nothing of the next: each is a clue of its own.
        group = f"{PROOF_RUN} {entry.epoch}" if entry.check == PROOF_RUN else root(network.group[entry.check])
        clusters.setdefault(group, ([], []))[0].append(entry)
    for report, group in heard:
        clusters[root(group)][1].append(report)
    return list(clusters.values())


def _waiting_for(network: Network, report: Complaining, made: Mapping[tuple[str, int], Finding]) -> list[str]:
    """Checks that a complaint speaks for, or may speak for; none where a check has taken its place for certain."""
    mode, says = network.says[report.complaint]
    waiting = []
    for check, outcomes in says.items():
        finding = made.get((check, report.epoch))
        if finding is None or min(finding.likelihood) > 0.0:
            waiting.append(check)
        elif mode == "any" and any(finding.likelihood[position] for position in outcomes):
            others = set(range(len(finding.likelihood))).difference(outcomes)
            if not any(finding.likelihood[position] for position in others):
                return []
            waiting.append(check)
    return waiting


def _clue(
    network: Network,
    lives: Sequence[Sequence[CauseSpan]],
    members: Sequence[Finding],
    heard: Sequence[Complaining],
    again: float,
) -> Clue:
    spoken = [network.says[report.complaint] for report in heard]
    items = []
    for member in members:
        # Outcomes next to each other that mean the same to everything heard become one class.
        labels = [
            (
                value,
                tuple(
                    report.epoch == member.epoch and position in says.get(member.check, ())
                    for report, (_, says) in zip(heard, spoken, strict=True)
                ),
            )
            for position, value in enumerate(member.likelihood)
        ]
        classes, values = [0], [member.likelihood[0]]
        for before, label in pairwise(labels):
            if label != before:
                values.append(label[0])
            classes.append(len(values) - 1)
        while len(values) > 1 and values[-1] == 0.0:
            top = len(values) - 1
            classes = [-1 if found == top else found for found in classes]
            values.pop()
        items.append(_Item(member.check, member.epoch, tuple(classes), tuple(values), min(member.likelihood)))
    answered = {(member.check, member.epoch): member for member in members if not _waiting(member)}
    claims = [
        _Claim(
            mode,
            {
                place: frozenset(item.classes[position] for position in says[item.check])
                for place, item in enumerate(items)
                if item.epoch == report.epoch and item.check in waiting
            },
            report.if_so,
            report.if_not,
        )
        for report, (mode, says) in zip(heard, spoken, strict=True)
        for waiting in (_waiting_for(network, report, answered),)
    ]
    leaks = _leaks(network, items, again)
    start = tuple(item.classes[0] for item in items)
    activations: dict[tuple[int, int], dict[tuple[int, ...], float]] = {}
    for part, states in enumerate(lives):
        for state, life in enumerate(states):
            if life.cause is not None and any(
                life.cause in network.shows[item.check] and item.epoch <= life.last for item in items
            ):
                activations[part, state] = _activation(network, items, life)
    reached = _closure(start, activations)
    index = {key: position for position, key in enumerate(reached)}
    effects = {place: _matrix(activation, reached, index) for place, activation in activations.items()}
    return Clue(
        tuple(1.0 if key == start else 0.0 for key in reached),
        tuple(_closing(key, items, leaks, claims) for key in reached),
        effects,
    )


def _waiting(member: Finding) -> bool:
    """No answer yet: only there because a complaint speaks of it."""
    return all(value == 1.0 for value in member.likelihood)


def _by_class(distribution: Sequence[float], classes: Sequence[int]) -> dict[int, float]:
    result: dict[int, float] = {}
    for value, found in zip(distribution, classes, strict=True):
        if found >= 0 and value > 0.0:
            result[found] = result.get(found, 0.0) + value
    return result


def _activation(network: Network, items: Sequence[_Item], life: CauseSpan) -> dict[tuple[int, ...], float]:
    """Joint distribution of the classes that one cause produces: one draw per group of checks."""
    assert life.cause is not None
    groups: dict[str, list[int]] = {}
    for place, item in enumerate(items):
        if item.epoch <= life.last and life.cause in network.shows[item.check]:
            groups.setdefault(network.group[item.check], []).append(place)
    joint: dict[tuple[int, ...], float] = {tuple(item.classes[0] for item in items): 1.0}
    for places in groups.values():
        drawn = one_draw([network.shows[items[place].check][life.cause] for place in places])
        following: dict[tuple[int, ...], float] = {}
        for base, weight in joint.items():
            for outcomes, chance in drawn:
                classes = list(base)
                for place, outcome in zip(places, outcomes, strict=True):
                    classes[place] = items[place].classes[outcome]
                if min(classes) >= 0:
                    key = tuple(classes)
                    following[key] = following.get(key, 0.0) + weight * chance
        joint = following
    return joint


def _closure(
    start: tuple[int, ...], activations: Mapping[tuple[int, int], Mapping[tuple[int, ...], float]]
) -> list[tuple[int, ...]]:
    steps = {key for activation in activations.values() for key in activation}
    reached = {start}
    frontier = [start]
    while frontier:
        state = frontier.pop()
        for step in steps:
            following = tuple(map(max, state, step))
            if following not in reached:
                reached.add(following)
                frontier.append(following)
    return sorted(reached)


def _matrix(
    activation: Mapping[tuple[int, ...], float],
    reached: Sequence[tuple[int, ...]],
    index: Mapping[tuple[int, ...], int],
) -> Matrix:
    rows = [[0.0] * len(reached) for _ in reached]
    for source, state in enumerate(reached):
        for step, chance in activation.items():
            rows[index[tuple(map(max, state, step))]][source] += chance
    return tuple(tuple(row) for row in rows)


@dataclass(frozen=True, slots=True)
class _Leak:
    """What the leak shows at the looks at one check, the items at `places`: the same at all of them with the chance
    `same`, else drawn at each."""

    places: tuple[int, ...]
    chances: tuple[float, ...]  # of each outcome
    same: float

    def seen(self, key: Sequence[int], items: Sequence[_Item], spoken: Sequence[int]) -> dict[tuple[int, ...], float]:
        """Weight of each combination of classes at the spoken places, where the causes alone show `key`; the answers
        at the other places are weighed in. Work grows with the looks, and doubles with the spoken ones only."""
        rest = [place for place in self.places if place not in spoken]
        found: dict[tuple[int, ...], float] = {}
        if self.same:
            for outcome, chance in enumerate(self.chances):
                shown = {place: items[place].classes[outcome] for place in self.places}
                if chance and min(shown.values()) >= 0:
                    classes = tuple(max(key[place], shown[place]) for place in spoken)
                    answers = prod(items[place].likelihood[max(key[place], shown[place])] for place in rest)
                    found[classes] = found.get(classes, 0.0) + self.same * chance * answers
        drawn = [_by_class(self.chances, items[place].classes) for place in self.places]
        apart = 1.0 - self.same
        for place, look in zip(self.places, drawn, strict=True):
            if place not in spoken:
                apart *= fsum(
                    chance * items[place].likelihood[max(key[place], shown_class)]
                    for shown_class, chance in look.items()
                )
        looks = [look.items() for place, look in zip(self.places, drawn, strict=True) if place in spoken]
        for combination in product(*looks):
            classes = tuple(max(key[place], shown) for place, (shown, _) in zip(spoken, combination, strict=True))
            found[classes] = found.get(classes, 0.0) + apart * prod(chance for _, chance in combination)
        return found


def _leaks(network: Network, items: Sequence[_Item], again: float) -> list[_Leak]:
    looks: dict[str, list[int]] = {}
    for place, item in enumerate(items):
        looks.setdefault(item.check, []).append(place)
    return [
        _Leak(tuple(places), tuple(network.leak[check]), again if len(places) > 1 else 0.0)
        for check, places in looks.items()
    ]


def _closing(key: Sequence[int], items: Sequence[_Item], leaks: Sequence[_Leak], claims: Sequence[_Claim]) -> float:
    """P(everything heard and seen | what the causes produced): of cause and leak the higher one is seen.

    The leaks come in here, at the end, so that a clue's states are only what causes can produce together; a check
    repeated after k remedies then has k + 1 states and not 2 to the power of k.
    """
    spoken = {place for claim in claims for place in claim.classes}
    weight = 1.0
    open_leaks: list[tuple[tuple[int, ...], dict[tuple[int, ...], float]]] = []
    for leak in leaks:
        places = tuple(place for place in leak.places if place in spoken)
        seen = leak.seen(key, items, places)
        if places:
            open_leaks.append((places, seen))
        else:
            weight *= fsum(seen.values())
    if not claims:
        return weight
    total = 0.0
    for combination in product(*(seen.items() for _, seen in open_leaks)):
        at: dict[int, int] = {}
        value = 1.0
        for (places, _), (classes, chance) in zip(open_leaks, combination, strict=True):
            at.update(zip(places, classes, strict=True))
            value *= chance
        total += value * _said(at, items, claims, sorted(spoken))
    return weight * total


def _said(at: Mapping[int, int], items: Sequence[_Item], claims: Sequence[_Claim], spoken: Sequence[int]) -> float:
    """P(what was said and answered of the spoken items | their classes), over which of them were really looked at."""
    looks: list[list[tuple[bool, float]]] = []
    for place in spoken:
        item = items[place]
        ways = [(False, item.unseen), (True, item.likelihood[at[place]] - item.unseen)]
        looks.append([(looked, chance) for looked, chance in ways if chance > 0.0])
    total = 0.0
    for combination in product(*looks):
        looked = frozenset(place for place, (way, _) in zip(spoken, combination, strict=True) if way)
        value = prod(chance for _, chance in combination)
        total += value * prod(claim.chance(at, looked) for claim in claims)
    return total
