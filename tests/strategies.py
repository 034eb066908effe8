"""Hypothesis strategies: small random networks, what is found on them, and small planning problems.

Numbers are drawn from short lists of round values, the edges 0 and 1 among them, so that failures shrink to something
that can be worked by hand.
"""

from __future__ import annotations

from dataclasses import dataclass

from hypothesis import strategies as st

from hertzwright.engine.belief import Complaining, Finding
from hertzwright.engine.compiler.graph import PROOF_RUN, Network

CHANCES = (0.01, 0.03, 0.05, 0.1, 0.25, 0.5, 0.75, 0.83, 0.92, 0.99)


@dataclass(frozen=True)
class Story:
    """A network with priors, and everything that was said, found and done."""

    network: Network
    priors: dict[str, float]
    findings: tuple[Finding, ...]
    reports: tuple[Complaining, ...]
    remedies: tuple[str, ...]
    again: float = 0.0


@st.composite
def distributions(draw: st.DrawFn, size: int, *, zeros: bool = True) -> tuple[float, ...]:
    """P(outcome i) of `size` outcomes, normal first; abnormal ones may have no chance at all."""
    left = 1.0
    values = []
    for _ in range(size - 1):
        value = draw(st.sampled_from((0.0, *CHANCES) if zeros else CHANCES)) * left
        values.append(value)
        left -= value
    return (left, *values)


@st.composite
def networks(draw: st.DrawFn, *, most_parts: int = 3, most_checks: int = 4) -> Network:
    """At most `most_parts` parts of one or two causes, checks of two to four outcomes, some of them in one group."""
    parts = {}
    for part in range(draw(st.integers(1, most_parts))):
        parts[f"part{part}"] = tuple(f"c{part}{letter}" for letter in "ab"[: draw(st.integers(1, 2))])
    causes = [cause for states in parts.values() for cause in states]
    leak, shows, group = {}, {}, {}
    for number in range(draw(st.integers(1, most_checks))):
        check = f"k{number}"
        size = draw(st.integers(2, 4))
        leak[check] = draw(distributions(size, zeros=draw(st.booleans())))
        group[check] = draw(st.sampled_from([check, "again", "once_more"]))
        bearing = draw(st.lists(st.sampled_from(causes), unique=True))
        shows[check] = {cause: draw(distributions(size)) for cause in sorted(bearing)}
    checks = tuple(leak)
    leak[PROOF_RUN], group[PROOF_RUN] = (0.98, 0.02), PROOF_RUN
    shows[PROOF_RUN] = dict.fromkeys(causes, (0.08, 0.92))
    cures = {
        f"r{number}": {
            cause: draw(st.sampled_from((0.25, 0.83, 0.92, 1.0)))
            for cause in sorted(draw(st.lists(st.sampled_from(causes), min_size=1, max_size=3, unique=True)))
        }
        for number in range(2)
    }
    says = {}
    for number in range(2):
        spoken = draw(st.lists(st.sampled_from(checks), min_size=1, max_size=2, unique=True))
        says[f"s{number}"] = (
            draw(st.sampled_from(("any", "all"))),
            {
                check: tuple(
                    sorted(draw(st.lists(st.integers(0, len(leak[check]) - 1), min_size=1, max_size=2, unique=True)))
                )
                for check in spoken
            },
        )
    return Network(parts, leak, shows, group, cures, says, draw(st.sampled_from((1.0, 0.75, 0.0))))


def priors_of(network: Network) -> st.SearchStrategy[dict[str, float]]:
    """A prior for every cause; some causes do not exist on this set."""
    return st.fixed_dictionaries(
        {cause: st.sampled_from((0.0, 0.01, 0.05, 0.1, 0.3)) for states in network.parts.values() for cause in states}
    )


@st.composite
def answers(draw: st.DrawFn, check: str, epoch: int, size: int) -> Finding:
    """A sure answer, one that fits several outcomes, one near a limit, or one that is not sure."""
    outcome = draw(st.integers(0, size - 1))
    kind = draw(st.sampled_from(("sure", "sure", "several", "near", "unsure")))
    if kind == "sure":
        return Finding(check, epoch, tuple(float(place == outcome) for place in range(size)))
    if kind == "near":
        share = draw(st.sampled_from((0.02, 0.3, 0.5)))
        other = max(0, outcome - 1)
        return Finding(
            check, epoch, tuple(1.0 - share if place == outcome else share * (place == other) for place in range(size))
        )
    if kind == "several":
        return Finding(check, epoch, tuple(float(place != outcome) for place in range(size)))
    return Finding(check, epoch, tuple(0.75 if place == outcome else 0.25 / (size - 1) for place in range(size)))


@st.composite
def stories(
    draw: st.DrawFn,
    *,
    most_parts: int = 3,
    most_checks: int = 4,
    most_findings: int = 3,
    most_reports: int = 2,
    most_remedies: int = 2,
) -> Story:
    """A network and a short job on it. One answer per check and epoch, one proof run at most after each remedy."""
    network = draw(networks(most_parts=most_parts, most_checks=most_checks))
    priors = draw(priors_of(network))
    remedies = tuple(draw(st.lists(st.sampled_from(sorted(network.cures)), max_size=most_remedies)))
    places = [(check, epoch) for check in network.leak if check != PROOF_RUN for epoch in range(len(remedies) + 1)]
    made = draw(st.lists(st.sampled_from(places), max_size=most_findings, unique=True))
    findings = [draw(answers(check, epoch, len(network.leak[check]))) for check, epoch in made]
    for epoch in range(1, len(remedies) + 1):
        result = draw(st.sampled_from(("cured", "not cured", "unknown")))
        if result != "unknown":
            findings.append(Finding(PROOF_RUN, epoch, (1.0, 0.0) if result == "cured" else (0.0, 1.0)))
    heard = draw(
        st.lists(
            st.tuples(st.sampled_from(sorted(network.says)), st.integers(0, len(remedies))),
            max_size=most_reports,
            unique=True,
        )
    )
    reports = tuple(
        Complaining(name, epoch, *draw(st.sampled_from(((0.9, 0.05, 0.1), (0.9, 0.05), (0.1, 0.95), (0.7, 0.3)))))
        for name, epoch in heard
    )
    return Story(network, priors, tuple(findings), reports, remedies, draw(st.sampled_from((0.0, 0.75, 1.0))))
