"""Sense: does what the files say hold together, over the whole knowledge base.

Purpose: one small function for each rule, each named after what must hold. A rule yields problems and decides nothing.
Law: a rule looks at trees, so that it runs whatever else is wrong; a rule about the whole (`WHOLE`) runs only where
every file has its right shape, since a missing piece would set off all of them.
Not checked here: the shape of files (see `schema`), whether names exist (see `names`), how files are written
(see `writing`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import pairwise
from math import fsum

from ..problems import Problem, quoted
from .entries import Entries, Entry, listed_names, nodes, number, number_in, pairs, strings, table, text, value, yes
from .names import band_outcomes, feature_fault, is_retired
from .source import MappingNode, Node, ScalarNode, SequenceNode
from .writing import key_order, long_lines, sentences

SLACK = 1e-9
NEEDED_BY_SCALE = {
    "rated_frequency": ("hertz",),
    "rated_volts": ("volts",),
    "rated_amps": ("rated_kw", "volts", "phases"),
}
NEEDED_BY_UNIT = {"Hz": ("poles",)}
Rule = Callable[[Entries], Iterator[Problem]]


def problems(entries: Entries, whole: bool) -> list[Problem]:
    """Every breach of a rule. `whole`: every file was read and has its right shape."""
    return [problem for rule in (*LOCAL, *(WHOLE if whole else ())) for problem in rule(entries)]


def _used(entries: Entries, kind: str) -> list[Entry]:
    return [entry for entry in entries.all(kind) if not is_retired(entry)]


def _outcomes(check: Entry) -> list[ScalarNode]:
    return list(table(check.node, "outcomes").keys.values())


def _row(entries: Entries, row: Node | None) -> dict[str, float]:
    """The strengths of a mapping from outcomes, those that can be read."""
    found = {}
    for outcome, strength in pairs(row) if isinstance(row, MappingNode) else ():
        number_of = entries.strength(strength.value) if isinstance(strength, ScalarNode) else None
        if number_of is not None:
            found[outcome.value] = number_of
    return found


def _rows(entries: Entries) -> Mapping[str, list[tuple[ScalarNode, dict[str, float]]]]:
    """For each cause, the checks it shows in with the strengths that can be read."""
    found: dict[str, list[tuple[ScalarNode, dict[str, float]]]] | None = entries.worked_out.get("rows")
    if found is None:
        found = {
            cause.id: [(check, _row(entries, row)) for check, row in pairs(table(cause.node, "shows"))]
            for cause in entries.all("causes")
        }
        entries.worked_out["rows"] = found
    return found


def _shown(entries: Entries) -> Mapping[str, Mapping[str, list[Entry]]]:
    """For each check and outcome, the causes in use that produce it."""
    found: dict[str, dict[str, list[Entry]]] | None = entries.worked_out.get("shown")
    if found is None:
        found = {}
        rows = _rows(entries)
        for cause in _used(entries, "causes"):
            for check, row in rows[cause.id]:
                for outcome, strength in row.items():
                    if strength > 0:
                        found.setdefault(check.value, {}).setdefault(outcome, []).append(cause)
        entries.worked_out["shown"] = found
    return found


# ---- chances -----------------------------------------------------------------------------------------------------


def strengths_sum_to_one(entries: Entries) -> Iterator[Problem]:
    """The strengths of a cause in one check, and the leaks of a check, are shares of one whole."""
    rows = _rows(entries)
    for cause in entries.all("causes"):
        for check, row in rows[cause.id]:
            total = fsum(row.values())
            if total > 1 + SLACK:
                what = f"the strengths of {quoted(cause.id)} in {quoted(check.value)} sum to {total:.4g}"
                advice = "they sum to 1 at most; what is left of 1 shows the normal outcome"
                yield cause.problem("K047", what, advice, check)
    for entry in entries.all("checks"):
        total = fsum(_row(entries, table(entry.node, "leak")).values())
        if total > 1 + SLACK:
            what = f"the leaks of {quoted(entry.id)} sum to {total:.4g}"
            yield entry.problem("K047", what, "they sum to less than 1", _key(entry, "leak"))


def part_sums_to_less_than_one(entries: Entries) -> Iterator[Problem]:
    """How common the causes of one part are leaves something for the sound state, on every set."""
    parts: dict[str, list[tuple[Entry, float]]] = {}
    for cause in _used(entries, "causes"):
        written = [value(cause.node, "how_common")]
        written += [value(exception, "how_common") for exception in nodes(cause.node, "when")]
        worst = max((entries.strength(word) or 0.0 for word in written), default=0.0)
        parts.setdefault(value(cause.node, "part") or cause.id, []).append((cause, worst))
    for part, members in parts.items():
        total = fsum(worst for _, worst in members)
        if total >= 1 - SLACK:
            what = f"the causes of {quoted(part)} can be as common as {total:.4g} together"
            last = members[-1][0]
            yield last.problem("K056", what, "their sum must stay below 1", text(last.node, "how_common"))


def leaks_are_given(entries: Entries) -> Iterator[Problem]:
    """Every abnormal outcome has a leak."""
    for check in entries.all("checks"):
        leak = table(check.node, "leak")
        for outcome in _outcomes(check)[1:]:
            if "leak" in check.node.values and outcome.value not in leak.values:
                what = f"no leak for the outcome {quoted(outcome.value)} of {quoted(check.id)}"
                yield check.problem("K049", what, f"add `{outcome.value}: almost_never` or what is true", outcome)


def outcomes_are_possible(entries: Entries) -> Iterator[Problem]:
    """Every outcome can be seen: somebody would be told of a contradiction otherwise."""
    shown = _shown(entries)
    for check in _used(entries, "checks"):
        leak = _row(entries, table(check.node, "leak"))
        named = _outcomes(check)
        if named and 1 - SLACK <= fsum(leak.values()) <= 1 + SLACK:
            what = f"{quoted(named[0].value)}, the normal outcome of {quoted(check.id)}, cannot be"
            yield check.problem("K048", what, "the leaks must sum to less than 1", named[0])
        for outcome in named[1:]:
            if outcome.value in shown.get(check.id, {}):
                continue
            if leak.get(outcome.value, 1.0) > 0:
                what = f"no cause shows {quoted(outcome.value)} in {quoted(check.id)}"
                yield check.problem("K046", what, "say which cause shows it, or drop the outcome", outcome)
            else:
                what = f"{quoted(outcome.value)} of {quoted(check.id)} cannot be: no cause shows it and its leak is 0"
                yield check.problem("K048", what, "give it a leak above 0", outcome)


# ---- causes and remedies -----------------------------------------------------------------------------------------


def causes_are_shown(entries: Entries) -> Iterator[Problem]:
    """Some check in use shows each cause."""
    shown = _shown(entries)
    used = {check.id for check in _used(entries, "checks")}
    seen = {cause.id for name, rows in shown.items() if name in used for causes in rows.values() for cause in causes}
    for cause in _used(entries, "causes"):
        if cause.id not in seen:
            yield cause.problem(
                "K040", f"no check shows the cause {quoted(cause.id)}", "say how it shows under `shows`"
            )


def causes_are_complained_of(entries: Entries) -> Iterator[Problem]:
    """Some complaint speaks of a check and outcome that each cause shows."""
    shown = _shown(entries)
    heard: set[str] = set()
    for complaint in _used(entries, "complaints"):
        says = table(complaint.node, "says")
        for check in says.values:
            for outcome in strings(says, check):
                heard.update(cause.id for cause in shown.get(check, {}).get(outcome.value, ()))
    for cause in _used(entries, "causes"):
        if cause.id not in heard and table(cause.node, "shows").values:
            what = f"no complaint speaks of anything that the cause {quoted(cause.id)} shows"
            yield cause.problem("K041", what, "add a complaint, or how it shows in a check that one speaks of")


def causes_are_told_apart(entries: Entries) -> Iterator[Problem]:
    """No two causes show the same in every check."""
    rows = _rows(entries)
    first: dict[tuple[tuple[str, tuple[tuple[str, float], ...]], ...], Entry] = {}
    for cause in _used(entries, "causes"):
        shows = []
        for check, row in rows[cause.id]:
            strengths = tuple(sorted(item for item in row.items() if item[1] > 0))
            if strengths:
                shows.append((check.value, strengths))
        key = tuple(sorted(shows))
        twin = first.setdefault(key, cause)
        if key and twin is not cause and not _never_together(twin, cause):
            what = f"{quoted(twin.id)} and {quoted(cause.id)} show the same in every check"
            unused = [check.id for check in _used(entries, "checks") if check.id not in dict(shows)]
            where = f", for example {unused[0]}" if unused else ""
            yield cause.problem("K042", what, f"a check in which only one of them shows would tell them apart{where}")


def _never_together(one: Entry, other: Entry) -> bool:
    """Whether no set has both: their `only_if` ask for different values of one feature."""
    first, second = table(one.node, "only_if"), table(other.node, "only_if")
    for feature, wanted in first.values.items():
        rival = second.values.get(feature)
        if isinstance(wanted, ScalarNode) and isinstance(rival, ScalarNode) and wanted.value != rival.value:
            return True
    return False


def causes_have_a_remedy(entries: Entries) -> Iterator[Problem]:
    """Something can be done about each cause."""
    cured: set[str] = set()
    for remedy in _used(entries, "remedies"):
        cured.update(name for name, chance in _cures(entries, remedy).items() if chance > 0)
    for cause in _used(entries, "causes"):
        if cause.id not in cured:
            what = f"no remedy cures the cause {quoted(cause.id)}"
            yield cause.problem("K043", what, "name it under `cures` of a remedy")


def remedies_cure(entries: Entries) -> Iterator[Problem]:
    """Each remedy removes some cause."""
    for remedy in _used(entries, "remedies"):
        if not any(chance > 0 for chance in _cures(entries, remedy).values()):
            what = f"the remedy {quoted(remedy.id)} cures nothing"
            yield remedy.problem("K044", what, "name the causes it removes, and the chance", _key(remedy, "cures"))


def _cures(entries: Entries, remedy: Entry) -> Mapping[str, float]:
    return _row(entries, table(remedy.node, "cures"))


def _key(entry: Entry, key: str) -> ScalarNode | None:
    return entry.node.keys.get(key)


# ---- the work ----------------------------------------------------------------------------------------------------


def order_has_no_circle(entries: Entries) -> Iterator[Problem]:
    """No step has to wait for itself. Rules of the kind `do_again` make nobody wait."""
    waits: dict[str, dict[str, Entry]] = {}
    for rule in entries.all("order"):
        if value(rule.node, "kind") != "do_again":
            for first in strings(rule.node, "before"):
                for then in strings(rule.node, "after"):
                    waits.setdefault(first.value, {}).setdefault(then.value, rule)
    for circle in _circles(waits):
        rule = max((waits[a][b] for a, b in pairwise(circle)), key=lambda entry: entry.key.line)
        what = f"the order runs in a circle: {' before '.join(circle)}"
        yield rule.problem("K045", what, "drop one of these rules")


def setting_has_no_circle(entries: Entries) -> Iterator[Problem]:
    """No step of setting needs, by way of others, itself; what is disturbed is done again, and makes nobody wait."""
    steps = {step.id: step for step in _used(entries, "setting")}
    follows: dict[str, list[str]] = {}
    for step in steps.values():
        for needed in strings(step.node, "needs"):
            follows.setdefault(needed.value, []).append(step.id)
    for circle in _circles(follows):
        last = steps[circle[-1]]
        at = next((one for one in strings(last.node, "needs") if one.value == circle[-2]), last.key)
        what = f"setting runs in a circle: {' before '.join(circle)}"
        yield last.problem("K080", what, "drop one of these needs, or say `disturbs` of the one that is done again", at)


def setting_can_be_accepted(entries: Entries) -> Iterator[Problem]:
    """A step that turns, or has a start, has a reading that accepts it, and one after all others is in no one's way."""
    steps = {step.id: step for step in _used(entries, "setting")}
    last = {name for name, step in steps.items() if yes(step.node, "last")}
    for step in steps.values():
        for key in ("adjuster", "pair", "starts"):
            if key in step.node.values and not table(step.node, "accepts").values:
                what = f"{quoted(step.id)} is turned and no reading accepts it"
                yield step.problem(
                    "K081", what, "name the check under `accepts`", _key(step, "accepts") or _key(step, key)
                )
        for needed in strings(step.node, "needs"):
            if needed.value in last and step.id not in last:
                what = f"{quoted(step.id)} needs {quoted(needed.value)}, which comes after every other step"
                yield step.problem("K081", what, "drop it, or let this one come last too", needed)


def _circles(follows: Mapping[str, Iterable[str]]) -> list[list[str]]:
    """One circle, first step repeated at the end, for each that a walk in the order written comes upon."""
    done: set[str] = set()
    found: list[list[str]] = []
    for start in follows:
        path: list[str] = []
        walk: list[Iterator[str]] = [iter([start])]
        while walk:
            step = next(walk[-1], None)
            if step is None:
                walk.pop()
                if path:
                    done.add(path.pop())
            elif step in path:
                found.append([*path[path.index(step) :], step])
            elif step not in done:
                path.append(step)
                walk.append(iter(follows.get(step, ())))
    return found


def dangers_have_cautions(entries: Entries) -> Iterator[Problem]:
    """What is marked dangerous says what the danger is, and so does a state in which the engine turns."""
    for state in entries.all("states"):
        if yes(state.node, "runs") and not yes(state.node, "dangerous") and not strings(state.node, "cautions"):
            what = f"the engine turns in {quoted(state.id)}, which names no caution"
            yield state.problem("K050", what, "name the dangers under `cautions`", _key(state, "runs"))
    for entry in entries.all("states", "checks", "remedies", "setting"):
        if yes(entry.node, "dangerous") and not strings(entry.node, "cautions"):
            what = f"{quoted(entry.id)} is dangerous and names no caution"
            yield entry.problem("K050", what, "name the dangers under `cautions`", _key(entry, "dangerous"))
    for complaint in entries.all("complaints"):
        if yes(complaint.node, "stop_first") and not strings(complaint.node, "cautions"):
            what = f"{quoted(complaint.id)} stops everything and names no caution"
            yield complaint.problem("K050", what, "name the dangers under `cautions`", _key(complaint, "stop_first"))


def runs_with_everything_on(entries: Entries) -> Iterator[Problem]:
    """A step that runs the set and takes something off says that it puts it back itself, or runs without it."""
    for step, state in _steps_in(entries):
        if not yes(state.node, "runs"):
            continue
        settled = {*listed_names(step.node, "puts_back"), *listed_names(step.node, "runs_without")}
        for fitting in strings(step.node, "takes_off"):
            if fitting.value not in settled:
                what = f"{quoted(step.id)} runs the set and takes off {quoted(fitting.value)}"
                advice = "name it under `puts_back` or `runs_without` as well, whichever is true"
                yield step.problem("K070", what, advice, fitting)


def fittings_are_asked_one_way(entries: Entries) -> Iterator[Problem]:
    """What a step needs on it does not run without, and only a step that runs the set runs without anything."""
    for step, state in _steps_in(entries):
        running = yes(state.node, "runs")
        for fitting in strings(step.node, "runs_without"):
            if not running:
                what = f"{quoted(step.id)} is done on a standing set and runs without {quoted(fitting.value)}"
                yield step.problem("K071", what, "leave out `runs_without`", fitting)
            elif fitting.value in listed_names(step.node, "needs_on"):
                what = f"{quoted(step.id)} needs {quoted(fitting.value)} on and runs without it"
                yield step.problem("K071", what, "leave it out of one of them", fitting)


def fittings_go_back_on_a_standing_set(entries: Entries) -> Iterator[Problem]:
    """Nothing is put back while the engine turns."""
    for fitting in entries.all("fittings"):
        state = entries.of("states").get(value(fitting.node, "state"))
        if state is not None and yes(state.node, "runs"):
            what = f"{quoted(fitting.id)} is put back on a running set"
            help_ = "name a state in which the set stands still"
            yield fitting.problem("K072", what, help_, text(fitting.node, "state"))


def _steps_in(entries: Entries) -> Iterator[tuple[Entry, Entry]]:
    """Every check and remedy with its set-up state, where that is known."""
    for step in entries.all("checks", "remedies"):
        state = entries.of("states").get(value(step.node, "state"))
        if state is not None:
            yield step, state


def moves_are_complete(entries: Entries) -> Iterator[Problem]:
    """The minutes from every set-up state to every other one are given."""
    states = list(entries.of("states"))
    for page, top in entries.tops["states"]:
        moves = table(top, "moves")
        for start in states:
            missing = [end for end in states if end != start and end not in table(moves, start).values]
            if missing and "moves" in top.values:
                at = moves.keys.get(start, top.keys["moves"])
                what = f"no minutes from {quoted(start)} to {', '.join(quoted(end) for end in missing)}"
                yield Problem.of("K054", page.file, at.line, at.column, what, "say how long the move takes")


def derived_readings_can_be_computed(entries: Entries) -> Iterator[Problem]:
    """A derived reading is the difference of two readings in its own unit."""
    checks = entries.of("checks")
    for check in checks.values():
        own = value(table(check.node, "reading"), "unit")
        for name in strings(table(check.node, "derived"), "minus"):
            other = checks.get(name.value)
            if other is None:
                continue
            unit = value(table(other.node, "reading"), "unit")
            if other.id == check.id or not own or unit != own or "derived" in other.node.values:
                what = f"{quoted(check.id)} cannot be computed from {quoted(name.value)}"
                yield check.problem("K057", what, "both must be other checks with a reading in the same unit", name)


# ---- numbers -----------------------------------------------------------------------------------------------------


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
        for outcome in _outcomes(check):
            if outcome.value not in meant:
                what = f"no reading means the outcome {quoted(outcome.value)} of {quoted(check.id)}"
                yield check.problem("K053", what, "add a band for it", outcome)


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


LOCAL: tuple[Rule, ...] = (
    strengths_sum_to_one,
    part_sums_to_less_than_one,
    leaks_are_given,
    order_has_no_circle,
    setting_has_no_circle,
    setting_can_be_accepted,
    dangers_have_cautions,
    runs_with_everything_on,
    fittings_are_asked_one_way,
    fittings_go_back_on_a_standing_set,
    derived_readings_can_be_computed,
    bands_are_whole,
    readings_reach_outcomes,
    readings_have_their_features,
    ranges_fit,
    long_lines,
    sentences,
    key_order,
)
WHOLE: tuple[Rule, ...] = (
    outcomes_are_possible,
    causes_are_shown,
    causes_are_complained_of,
    causes_are_told_apart,
    causes_have_a_remedy,
    remedies_cure,
    moves_are_complete,
)
OF_THE_WHOLE = frozenset({"K040", "K041", "K042", "K043", "K044", "K046", "K048", "K054"})
"""The codes that the rules about the whole give: they are not looked for while a file has a wrong shape."""
