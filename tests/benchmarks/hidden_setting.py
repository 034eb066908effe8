"""How far the readings at the load points hang together beyond what the words say of them, on sets of the family.

    python -m tests.benchmarks.hidden_setting [--members 24] [--seed 1] [--out FILE | --read FILE]

Frequency at no load, a quarter, half, three quarters and full load, and the volts, follow from a few things: level,
droop, where it begins to fall away, and how far the owner has turned the adjuster to hide it. The knowledge says of each
cause how often it shows at each point, and that what a cause shows at the points of one group is one draw. Is that
enough? For each cause that bears on the points, so many members of the family (never the part kept aside), every point
read through the meter.

First table, bits a set that a model of the joint reading needs more than the best of them, given the cause: each point by
itself; one draw for the group, as the program takes it (the worse a fault, the worse everywhere); one draw by level (who turns
the adjuster lifts all points); mixtures; a chain in which each point follows from the one before; and a
setting {as it should be, turned} that all points share. All four from the same counts of the same half of the members
and judged on the other half: so the words play no part, only how the points hang together.

Second table, the program itself: the posterior of the cause among all that bear on the points, each as likely as the
others, from one point, two, and all. Sharpness is the power to which the posterior would have to be taken to be right
on the whole (the best log score): below 1 it is over-sure. What matters is whether it falls as points are added; at one
point it is what the words alone are off. Intervals are by drawing sets again.
"""

from __future__ import annotations

import argparse
import json
import math
import random
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import product
from pathlib import Path

from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.compiler.looks import one_draw
from hertzwright.engine.readings.reading import read_answer
from hertzwright.engine.rehearsal.interval import interval
from hertzwright.engine.simulated.bench import CHECKS
from hertzwright.engine.simulated.family import can_have, family_member, severity
from hertzwright.engine.simulated.faults import FAULTS
from hertzwright.engine.simulated.observation import UNKNOWN

POINTS = (
    "frequency_no_load",
    "frequency_quarter_load",
    "frequency_half_load",
    "frequency_three_quarter_load",
    "frequency_full_load",
)
FIRST, ENDS, THREE = POINTS[:1], (POINTS[0], POINTS[-1]), POINTS[::2]
APART = "apart"
LEVEL = {"very_low": -2, "low": -1, "right": 0, "high": 1, "very_high": 2}
TURNED = 0.2
"""Part of the way that an owner hides a trouble from which the adjuster counts as turned."""
LEAST = 12
"""Fewest sets of a cause that are looked at."""
POWERS = [place / 20 for place in range(2, 41)]
Joint = Callable[[Sequence[int]], float]


@dataclass(frozen=True)
class SetRead:
    """What the points of one set show: for each how well every outcome fits, in order; hide: how far the owner hides
    the trouble."""

    cause: str
    hide: float
    fits: tuple[tuple[float, ...], ...]

    @property
    def seen(self) -> tuple[int, ...]:
        """The outcome that fits best at each point."""
        return tuple(fits.index(max(fits)) for fits in self.fits)


def made(knowledge: Knowledge, members: int, seed: str) -> Iterator[SetRead]:
    """Each cause that bears on the points, on each member that can have it, read at every point."""
    causes = [
        known
        for cause in FAULTS
        if (known := knowledge.causes.get(cause)) is not None
        and known.retired is None
        and any(point in known.shows for point in POINTS)
    ]
    for number in range(members):
        member = family_member(knowledge, f"{seed}/setting/{number}")
        for known in causes:
            if known.fault and not can_have(knowledge, known.id, member.features):
                continue
            bench = member.with_faults(((known.id, severity(knowledge, member, known.id)),))
            seen: list[tuple[float, ...]] = []
            for point in POINTS:
                check = knowledge.checks[point]
                answer = bench.answer(point) if point in CHECKS else UNKNOWN
                if answer == UNKNOWN:
                    break
                bands = knowledge.catalogue.tolerances["default"].bands.get(point)
                fits = dict(read_answer(check, answer, bench.features, bands).fits)
                seen.append(tuple(fits.get(outcome.id, 0.0) for outcome in check.outcomes))
            if len(seen) == len(POINTS):
                yield SetRead(known.id, member.hide, tuple(seen))


# ---- how the points hang together


def shares(outcomes: int, counts: Mapping[int, float], prior: Sequence[float] | None = None) -> list[float]:
    """Shares of the outcomes, with one look more spread over them (by `prior`, else evenly)."""
    total = sum(counts.values()) + 1.0
    spread = prior or [1.0 / outcomes] * outcomes
    return [(counts.get(place, 0.0) + spread[place]) / total for place in range(outcomes)]


def models(sets: Sequence[SetRead], named: Sequence[Sequence[str]]) -> dict[str, Joint]:
    """The joint models from the counts of some sets of one cause. named: ids of the outcomes at each point."""
    sizes = [len(outcomes) for outcomes in named]
    single = [
        shares(size, Counter(each.seen[place] for each in sets)) for place, size in enumerate(sizes)
    ]  # fmt: skip
    drawn = dict(one_draw(single))
    steps = [
        {
            before: shares(size, Counter(e.seen[place] for e in sets if e.seen[place - 1] == before), single[place])
            for before in range(sizes[place - 1])
        }
        for place, size in enumerate(sizes)
        if place
    ]
    turned = sum(each.hide >= TURNED for each in sets) / len(sets)
    by_setting = [
        (
            weight,
            [
                shares(size, Counter(e.seen[place] for e in sets if (e.hide >= TURNED) == is_turned), single[place])
                for place, size in enumerate(sizes)
            ],
        )
        for is_turned, weight in ((False, 1.0 - turned), (True, turned))
    ]

    order = [
        sorted(range(size), key=lambda outcome: LEVEL[outcomes[outcome]])
        for outcomes, size in zip(named, sizes, strict=True)
    ]
    by_level = {
        tuple(order[place][rank] for place, rank in enumerate(ranks)): chance
        for ranks, chance in one_draw([[row[outcome] for outcome in order[place]] for place, row in enumerate(single)])
    }

    def apart(seen: Sequence[int]) -> float:
        return math.prod(single[place][outcome] for place, outcome in enumerate(seen))

    def one(seen: Sequence[int]) -> float:
        # A misreading breaks a draw now and then, as the leak does in the program.
        return 0.95 * drawn.get(tuple(seen), 0.0) + 0.05 * apart(seen)

    def level(seen: Sequence[int]) -> float:
        return 0.95 * by_level.get(tuple(seen), 0.0) + 0.05 * apart(seen)

    def mixed(seen: Sequence[int]) -> float:
        return (one(seen) + level(seen) + apart(seen)) / 3.0

    def half(seen: Sequence[int]) -> float:
        return 0.5 * (one(seen) + apart(seen))

    def chain(seen: Sequence[int]) -> float:
        return single[0][seen[0]] * math.prod(steps[p - 1][seen[p - 1]][seen[p]] for p in range(1, len(seen)))

    def setting(seen: Sequence[int]) -> float:
        return sum(weight * math.prod(rows[p][o] for p, o in enumerate(seen)) for weight, rows in by_setting)

    return {
        "each by itself": apart,
        "one draw": one,
        "one draw by level": level,
        "half one draw, half by itself": half,
        "a third each of these three": mixed,
        "a chain": chain,
        "a shared setting": setting,
    }


def bits(sets: Sequence[SetRead], named: Sequence[Sequence[str]]) -> dict[str, list[float]]:
    """Bits of each set under each model, judged on the half of its cause that the model was not made from."""
    found: dict[str, list[float]] = {}
    by_cause: dict[str, list[SetRead]] = {}
    for each in sets:
        by_cause.setdefault(each.cause, []).append(each)
    for members in by_cause.values():
        if len(members) >= LEAST:
            for learn, judge in ((members[::2], members[1::2]), (members[1::2], members[::2])):
                for name, joint in models(learn, named).items():
                    found.setdefault(name, []).extend(-math.log2(joint(each.seen)) for each in judge)
    return found


# ---- the program's own posterior


def posteriors(
    knowledge: Knowledge, sets: Sequence[SetRead], points: Sequence[str], way: str = ""
) -> list[tuple[float, list[float]]]:
    """For each set log P(readings | its own cause), and those of every cause. way: points of one group as one draw of the
    cause, as the program takes them; APART, each by itself."""
    causes = sorted({each.cause for each in sets})
    places = [POINTS.index(point) for point in points]
    known: dict[tuple[str, tuple[int, ...]], float] = {}

    def joint(cause: str, seen: tuple[int, ...]) -> float:
        if (cause, seen) not in known:
            looks = [
                (point, knowledge.checks[point].outcomes[outcome].id, frozenset({cause}))
                for point, outcome in zip(points, seen, strict=True)
            ]
            if way == APART:
                known[cause, seen] = math.prod(knowledge.joint_likelihood([look]) for look in looks)
            else:
                known[cause, seen] = knowledge.joint_likelihood(looks)
        return known[cause, seen]

    found = []
    for each in sets:
        ways = [[(outcome, fit) for outcome, fit in enumerate(each.fits[place]) if fit] for place in places]
        logs = {}
        for cause in causes:
            chance = sum(
                math.prod(fit for _, fit in one) * joint(cause, tuple(outcome for outcome, _ in one))
                for one in product(*ways)
            )
            logs[cause] = math.log(max(chance, 1e-12))
        found.append((logs[each.cause], list(logs.values())))
    return found


def scores(found: Sequence[tuple[float, Sequence[float]]]) -> list[list[float]]:
    """For each set the log score, in nats, of its posterior taken to each of POWERS."""
    rows = []
    for own, logs in found:
        most = max(logs)
        rows.append(
            [power * (own - most) - math.log(sum(math.exp(power * (each - most)) for each in logs)) for power in POWERS]
        )
    return rows


def sharpness(rows: Sequence[Sequence[float]]) -> float:
    """The power of the best mean log score."""
    sums = [sum(column) for column in zip(*rows, strict=True)]
    return POWERS[sums.index(max(sums))]


def reliability(found: Sequence[tuple[float, Sequence[float]]]) -> list[tuple[float, float, int]]:
    """Said, come true and how many, of causes by what was said of them, in steps."""
    edges = (0.0, 0.02, 0.05, 0.1, 0.2, 0.4, 1.01)
    rows = [[0.0, 0.0, 0] for _ in edges[1:]]
    for own, logs in found:
        most = max(logs)
        whole = sum(math.exp(each - most) for each in logs)
        told = False
        for each in logs:
            chance = math.exp(each - most) / whole
            row = rows[next(place for place, edge in enumerate(edges[1:]) if chance < edge)]
            row[0] += chance
            row[2] += 1
            if each == own and not told:
                told = True
                row[1] += 1
    return [(said / count, true / count, int(count)) for said, true, count in rows if count]


def main(words: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.hidden_setting")
    parser.add_argument("--members", type=int, default=24)
    parser.add_argument("--seed", default="1")
    parser.add_argument("--out", type=Path, help="JSON lines of every set, kept")
    parser.add_argument("--read", type=Path, help="sets that were kept, in place of new ones")
    given = parser.parse_args(words)
    knowledge = load_knowledge()
    if given.read:
        lines = given.read.read_text(encoding="utf-8").splitlines()
        sets = [
            SetRead(each["cause"], each["hide"], tuple(map(tuple, each["fits"]))) for each in map(json.loads, lines)
        ]
    else:
        sets = []
        for each in made(knowledge, given.members, given.seed):
            sets.append(each)
            if given.out:
                with given.out.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(asdict(each)) + "\n")
    named = [[outcome.id for outcome in knowledge.checks[point].outcomes] for point in POINTS]
    turned = sum(each.hide >= TURNED for each in sets)
    print(f"{len(sets)} sets, {len({each.cause for each in sets})} causes, adjuster turned on {turned}")
    needed = bits(sets, named)
    print(f"\n{'bits a set, given the cause':<34}{'mean':>8}{'less one draw, 95 %':>28}")
    for name, values in needed.items():
        mean, low, high = interval([a - b for a, b in zip(values, needed["one draw"], strict=True)])
        print(f"{name:<34}{sum(values) / len(values):>8.3f}{mean:>12.3f}  ({low:.3f} to {high:.3f})")
    print(f"\n{'posterior from':<34}{'log score':>10}{'sharpness, 95 %':>28}")
    draw = random.Random(1)
    for name, points, way in (
        ("no load", FIRST, ""),
        ("no load, full load", ENDS, ""),
        ("no, half, full load", THREE, ""),
        ("no, half, full, each by itself", THREE, APART),
        ("all five", POINTS, ""),
        ("all five, each by itself", POINTS, APART),
    ):
        found = posteriors(knowledge, sets, points, way)
        rows = scores(found)
        again = sorted(sharpness(draw.choices(rows, k=len(rows))) for _ in range(40))
        as_it_is = sum(row[POWERS.index(1.0)] for row in rows) / len(rows)
        print(f"{name:<34}{as_it_is:>10.3f}{sharpness(rows):>12.2f}  ({again[1]:.2f} to {again[38]:.2f})")
    print(f"\n{'said of a cause, all five':<28}{'came true':>10}{'causes':>10}")
    for said, true, count in reliability(posteriors(knowledge, sets, POINTS)):
        print(f"{said:<28.3f}{true:>10.3f}{count:>10}")


if __name__ == "__main__":
    main()
