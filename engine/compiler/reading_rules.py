"""Sense of readings: bands without a gap, outcomes that are reached, features that a scale needs, ranges in order.

Purpose: one small function for each rule about what is read or typed (see `rules` for how they are run).
Law: a rule looks at trees and yields problems; it is named after what must hold.
Not here: causes and remedies (see `cause_rules`), the work (see `work_rules`).
"""

from __future__ import annotations

from collections.abc import Iterator

from ..problems import Problem, quoted
from .entries import Entries, Entry, number, number_in, pairs, strings, table, text, value
from .reference import band_outcomes, feature_fault
from .source import MappingNode, Node, SequenceNode
from .typed import spoken

NEEDED_BY_SCALE = {
    "rated_frequency": ("hertz",),
    "rated_volts": ("volts",),
    "rated_amps": ("rated_kw", "volts", "phases"),
}
NEEDED_BY_UNIT = {"Hz": ("poles",)}


def bands_are_whole(entries: Entries) -> Iterator[Problem]:
    """Bands follow one another from the lowest reading to the highest, without a gap."""
    for check in entries.all("checks"):
        yield from _bands(check, table(check.node, "reading").values.get("bands"))
    for tolerance in entries.all("tolerances"):
        for _, bands in pairs(table(tolerance.node, "bands")):
            yield from _bands(tolerance, bands)


def _bands(entry: Entry, bands: Node | None) -> Iterator[Problem]:
    if not isinstance(bands, SequenceNode):
        return
    written = [band for band in bands.items if isinstance(band, MappingNode)]
    end: float | None = None
    for position, band in enumerate(written):
        low, high = text(band, "from"), text(band, "below")
        start, stop = number(low), number(high)
        last = position == len(written) - 1
        if position == 0 and low is not None:
            yield entry.problem("K052", "the first band has a lower end", "leave out `from`", low)
        elif position > 0 and start is None:
            yield entry.problem("K052", "a band without `from`", "only the first band has none", band)
        elif start is not None and end is not None and start != end:
            kind = "a gap" if start > end else "an overlap"
            what = f"{kind} between {end:g} and {start:g}" if start > end else f"{kind} from {start:g} to {end:g}"
            yield entry.problem("K052", what, f"start this band at {end:g}", low)
        if last and high is not None:
            yield entry.problem("K052", "the last band has an upper end", "leave out `below`", high)
        elif not last and high is None:
            yield entry.problem("K052", "a band without `below`", "only the last band has none", band)
        elif start is not None and stop is not None and stop <= start:
            yield entry.problem("K052", f"a band from {start:g} to below {stop:g} holds nothing", "", high)
        end = stop


def readings_reach_outcomes(entries: Entries) -> Iterator[Problem]:
    """Every outcome of a check with readings is meant by some reading."""
    for check in entries.all("checks"):
        reading = table(check.node, "reading")
        if "bands" not in reading.values:
            continue
        meant = {outcome.value for outcome in band_outcomes(reading.values["bands"])}
        meant.add(value(table(reading, "uneven"), "outcome"))
        for outcome in list(table(check.node, "outcomes").keys.values()):
            if outcome.value not in meant:
                what = f"no reading means the outcome {quoted(outcome.value)} of {quoted(check.id)}"
                yield check.problem("K053", what, "add a band for it", outcome)


def what_is_said_is_said_for_one(entries: Entries) -> Iterator[Problem]:
    """What people say for an answer is said for no other answer of the check, and is no other's name."""
    for check in entries.all("checks"):
        said = table(check.node, "said")
        names = {spoken(name.replace("_", " ")): name for name in table(check.node, "outcomes").values}
        for outcome, _ in pairs(said):
            for way in strings(said, outcome.value):
                other = names.setdefault(spoken(way.value), outcome.value)
                if other != outcome.value:
                    what = f"{quoted(way.value)} is said for {quoted(outcome.value)} and for {quoted(other)}"
                    yield check.problem("K106", what, "leave it out of one of them, or of both", way)


def readings_have_their_features(entries: Entries) -> Iterator[Problem]:
    """What a reading is scaled by is a feature of the set."""
    if "features" in entries.broken:
        return
    known = {feature.id for feature in entries.all("features")}
    for check in entries.all("checks"):
        reading = table(check.node, "reading")
        wanted = (*NEEDED_BY_SCALE.get(value(reading, "scale"), ()), *NEEDED_BY_UNIT.get(value(reading, "unit"), ()))
        for name in wanted:
            if name not in known:
                what = f"the reading of {quoted(check.id)} needs the feature {quoted(name)}, which there is not"
                yield check.problem("K058", what, "add the feature to features.yaml", reading)


def ranges_fit(entries: Entries) -> Iterator[Problem]:
    """Ranges run upward, and defaults can be taken."""
    for feature in entries.all("features"):
        yield from _range(feature, feature.node)
        default = text(feature.node, "default")
        if default is not None and default.value:
            fault, advice = feature_fault(feature, default.value)
            if fault:
                yield feature.problem("K055", f"the default {quoted(default.value)} is {fault}", advice, default)
        kind, has_choices = value(feature.node, "kind"), "choices" in feature.node.values
        if kind == "choice" and not has_choices:
            yield feature.problem(
                "K055", f"the choice {quoted(feature.id)} has no choices", "list them under `choices`"
            )
        if kind == "number" and not has_choices and "range" not in feature.node.values:
            yield feature.problem("K055", f"the number {quoted(feature.id)} has no range", "add `range`, or `choices`")
        if kind == "number":
            for choice in strings(feature.node, "choices"):
                if number_in(choice.value) is None:
                    yield feature.problem("K055", f"the choice {quoted(choice.value)} is not a number", "", choice)
    for check in entries.all("checks"):
        yield from _range(check, table(check.node, "reading"))
    for spread in entries.all("spreads"):
        yield from _range(spread, spread.node)


def _range(entry: Entry, node: MappingNode) -> Iterator[Problem]:
    limits = strings(node, "range")
    lowest, highest = (number(limit) for limit in limits) if len(limits) == 2 else (None, None)
    if lowest is not None and highest is not None and lowest >= highest:
        yield entry.problem(
            "K055", f"a range from {lowest:g} to {highest:g}", "the lower number comes first", limits[0]
        )
