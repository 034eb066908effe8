"""What the checks show on the simulated set, cause by cause, beside what the knowledge says they show.

For each cause the set is simulated as the features' default describe it, at a few severities and with the speed adjuster
as found and turned to hide the fault. A conflict is an outcome that one side shows at least half of the time and the
other hardly ever. `python -m tests.second_opinion` prints the table.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context

from hertzwright.engine import Knowledge, load_knowledge
from hertzwright.engine.reading import read_answer
from hertzwright.engine.simulated.bench import Bench
from hertzwright.engine.simulated.eye import UNKNOWN
from hertzwright.engine.simulated.faults import FAULTS

VARIANTS = ((0.1, 0.0), (0.4, 0.0), (0.7, 0.0), (0.95, 0.0), (0.3, 1.0), (0.8, 1.0))
"""Severity, and how far the speed adjuster was turned to hide it."""
OFTEN, HARDLY = 0.5, 0.1



REASONS = {
    "line": "M: a rod of another length moves the whole line, until somebody resets the speed; the knowledge takes it as reset",
    "creep": "M: an arm that creeps at each drop of load has crept between the first and the last reading",
    "rough": "K: an ungoverned engine runs rough by uneven mixture, which mean values do not hold",
    "settled": "M: dip and rise are read from where it settles, and there it is itself low or high",
    "gives way": "M: short of power it either comes to rest low at once or sinks for long; the middle is rare",
    "drag": "M: drag rests on the side it came from only if loads come gently; after a step it may be either side",
    "stick": "M: stick and slip has no beat; with sound linkage gain it wanders and is called erratic",
    "mild": "K: the sizes met are wider than the model's; a larger play or lag would show it",
    "start": "K: a hunt by lost motion needs a knock to begin; a cold engine gives it, the model's run does not",
    "follows": "K: on half of old sets voltage follows speed fully; the model's regulator takes a fifth of it away",
    "hump": "M: a booster with a sharp spring lifts the middle of the line",
    "hole": "M: a hole further out turns the lever with more force, so the speed is high until the adjuster was turned",
    "eased": "M: where drag makes it swing, less gain calms it like any other swing",
    "all the time": "M: a booster that pulls all the time raises no load and lowers no full load; only a speed turned down does",
    "cold booster": "M: a cold engine needs more throttle and comes into the booster's range",
    "cold swing": "K: a rich cold engine loads up and clears with a beat; the model misses strokes at random, erratic",
    "stuck part open": "M: a plate that is stuck part open stands so cold as well",
    "closed too far": "M: with the plate nearly shut full load kills the set: very low, or never back",
    "lean both": "M: cold fuel and air that leaks in lean the main circuit too, so a richer main needle helps",
    "over rich": "M: a plate still part shut enriches the main circuit as well, so a leaner main needle helps",
    "cold power": "M: cold oil and half-open choke cost a full load more than a governor can make up",
    "governed": "M: the governor holds no load while it warms; a change over 1 Hz needs a throttle on a stop",
    "vacuum": "M: no load asks a fixed torque and so a fixed manifold pressure; only a loss of burning or a stop moves it",
    "main circuit": "M: under load the main circuit feeds it, so the idle needle does not colour the exhaust",
    "rolls": "M: too rich at no load it loads up and clears with the throttle: a beat, and it goes on after a load step",
    "beat": "K: real misses come in spells; the model's draw stroke by stroke evens out over a reading",
    "needle": "K: a level that is high or low answers choke either way; the model's change stays within the eye",
    "ice": "K: ice comes and goes in minutes; the model holds it still during a check",
    "wavers": "M: where strokes fail under load, speed and with it voltage waver",
    "cleaner": "K: a bowl vented outside the cleaner is drawn on harder than the model's small factor says",
    "swap": "M: strokes that miss move the speed by more than the trial does between two readings",
    "valve": "K: the valve that hangs is not seen as uneven while the cylinder works most of the time",
    "leg": "K: lamps on the loaded leg waver when something starts there; the model's loads are steady",
    "cycle": "M: a load that comes and goes never leaves the set in its band",
    "sag": "M: low speed takes the voltage along",
}
"""Why the two differ; M: the model is believed and the knowledge may be changed, K: the knowledge is, the model is poorer."""

EXPLAINED: Mapping[str, Mapping[str, str]] = {
    "throttle_rod_long": {
        "frequency_half_load high": "line",
        "frequency_three_quarter_load high": "line",
        "frequency_full_load high": "line",
        "swing_no_load erratic": "rough",
        "load_drop_overshoot high": "settled",
    },
    "throttle_rod_short": {
        "frequency_no_load low": "line",
        "frequency_quarter_load low": "line",
        "frequency_half_load low": "line",
        "load_step_dip deep": "settled",
    },
    "linkage_binding": {
        "frequency_full_load low": "drag",
        "swing_no_load slow_swing": "stick",
    },
    "linkage_worn": {
        "swing_half_load slow_swing": "mild",
        "swing_cold slow_swing": "start",
    },
    "governor_arm_slipped": {
        "load_drop_overshoot high": "settled",
        "frequency_change_warming climbs": "creep",
    },
    "throttle_not_reaching_full": {
        "load_step_dip deep": "settled",
    },
    "speed_set_high": {
        "voltage_no_load high": "follows",
    },
    "sensitivity_sharp": {
        "frequency_three_quarter_load high": "hump",
    },
    "governor_spring_weak": {
        "load_step_dip deep": "settled",
        "load_step_recovery slow": "gives way",
    },
    "governor_spring_misplaced": {
        "frequency_three_quarter_load high": "hole",
    },
    "flyweights_sticking": {
        "frequency_no_load high": "drag",
        "swing_no_load slow_swing": "stick",
        "swing_half_load slow_swing": "stick",
        "load_step_settling keeps_swinging": "stick",
        "sensitivity_trial swing_stops": "eased",
    },
    "governor_drive_worn": {
        "no_load_repeatability wanders": "mild",
    },
    "booster_diaphragm_leak": {
        "frequency_full_load low": "all the time",
    },
    "booster_passage_plugged": {
        "frequency_full_load low": "all the time",
        "load_step_recovery slow": "mild",
        "load_drop_overshoot high": "settled",
    },
    "booster_set_strong": {
        "swing_full_load slow_swing": "mild",
        "swing_cold slow_swing": "cold booster",
        "load_step_settling keeps_swinging": "mild",
    },
    "booster_set_weak": {
        "frequency_three_quarter_load low": "mild",
    },
    "booster_link_binding": {
        "frequency_three_quarter_load low": "mild",
        "load_step_dip deep": "settled",
    },
    "choke_stuck_closed": {
        "choke_plate_cold part_open": "stuck part open",
        "load_step_recovery very_slow": "closed too far",
        "speed_adjuster_trial no_response": "closed too far",
    },
    "choke_slow_opening": {
        "swing_cold slow_swing": "cold swing",
        "main_needle_trial better_leaner": "over rich",
    },
    "choke_heater_dead": {
        "voltage_full_load low": "sag",
        "swing_cold slow_swing": "cold swing",
        "load_step_recovery very_slow": "closed too far",
    },
    "engine_not_warm": {
        "frequency_full_load low": "cold power",
        "frequency_spread wide": "cold power",
        "swing_cold slow_swing": "cold swing",
        "frequency_change_warming climbs": "governed",
        "main_needle_trial better_richer": "lean both",
    },
    "idle_mixture_lean": {
        "manifold_vacuum_no_load low": "vacuum",
        "no_load_repeatability wanders": "beat",
    },
    "idle_mixture_rich": {
        "exhaust_colour black": "main circuit",
        "manifold_vacuum_no_load low": "vacuum",
        "swing_no_load erratic": "rolls",
        "swing_cold erratic": "rolls",
        "load_step_settling keeps_swinging": "rolls",
    },
    "main_mixture_lean": {
        "load_step_dip deep": "settled",
    },
    "main_mixture_rich": {
        "voltage_full_load low": "sag",
    },
    "idle_passage_dirty": {
        "manifold_vacuum_no_load low": "vacuum",
        "no_load_repeatability wanders": "beat",
    },
    "float_level_wrong": {
        "part_choke_trial runs_worse": "needle",
    },
    "vacuum_leak": {
        "manifold_vacuum_no_load low": "vacuum",
        "vacuum_needle low_and_steady": "vacuum",
        "main_needle_trial better_richer": "lean both",
    },
    "carburetor_icing": {
        "load_step_dip deep": "settled",
        "load_step_recovery slow": "gives way",
        "no_load_repeatability wanders": "ice",
    },
    "stale_or_wrong_fuel": {
        "voltage_full_load low": "sag",
        "voltage_steadiness wavers": "wavers",
        "swing_no_load erratic": "beat",
        "load_step_recovery very_slow": "gives way",
    },
    "air_cleaner_clogged": {
        "exhaust_colour black": "cleaner",
        "plug_colour sooty": "cleaner",
        "load_step_dip deep": "settled",
    },
    "exhaust_restricted": {
        "manifold_vacuum_no_load low": "vacuum",
        "vacuum_needle low_and_steady": "vacuum",
        "load_step_dip deep": "settled",
    },
    "misfire_one_cylinder": {
        "air_cleaner_off_trial picks_up": "swap",
        "load_step_recovery slow": "gives way",
        "no_load_repeatability wanders": "beat",
    },
    "ignition_points_worn": {
        "voltage_steadiness wavers": "wavers",
        "load_step_recovery very_slow": "gives way",
    },
    "low_compression": {
        "manifold_vacuum_no_load low": "vacuum",
        "load_step_dip deep": "settled",
    },
    "valve_sticking": {
        "booster_disconnect_trial frequency_rises": "swap",
        "voltage_steadiness wavers": "wavers",
        "cylinder_drop_trial uneven": "valve",
        "load_step_recovery very_slow": "gives way",
    },
    "overload": {
        "load_step_dip deep": "settled",
        "load_step_recovery very_slow": "gives way",
    },
    "legs_unbalanced": {
        "voltage_steadiness wavers": "leg",
    },
    "load_cycles": {
        "load_step_recovery very_slow": "cycle",
    },
}


@dataclass(frozen=True)
class Opinion:
    """How often a cause shows an outcome of a check: by the knowledge (a probability), by simulation (a share)."""

    cause: str
    check: str
    outcome: str
    said: float
    shown: float
    looks: int

    @property
    def verdict(self) -> str:
        if self.looks < 2:
            return "agrees"  # a trial that one set in six let be made says nothing
        if self.said >= OFTEN and self.shown == 0.0:
            return "never shown"
        if self.shown >= OFTEN and self.said < HARDLY:
            return "not said"
        return "agrees"


def shown(knowledge: Knowledge, cause: str, features: Mapping[str, object] | None = None) -> dict[str, dict[str, float]]:
    """Share of the simulated looks that show each outcome: check -> outcome -> share; "" holds the number of looks."""
    described = knowledge.features(features or {})
    counts: dict[str, dict[str, float]] = {}
    for number, (severity, hide) in enumerate(VARIANTS):
        bench = Bench(described, ((cause, severity),), seed=number, hide=hide)
        for check in knowledge.checks.values():
            if not knowledge.applies(check.id, described):
                continue
            answer = bench.answer(check.id)
            if answer == UNKNOWN:
                continue
            outcomes = read_answer(check, answer, described).outcomes
            row = counts.setdefault(check.id, {"": 0.0})
            row[""] += 1.0
            for outcome in outcomes:
                row[outcome] = row.get(outcome, 0.0) + 1.0 / len(outcomes)
    return {
        check: {outcome: value if outcome == "" else value / row[""] for outcome, value in row.items()}
        for check, row in counts.items()
    }


def opinions(knowledge: Knowledge, cause: str) -> Iterator[Opinion]:
    """Each abnormal outcome that either side shows."""
    says = knowledge.causes[cause].shows
    for check_id, row in shown(knowledge, cause).items():
        check = knowledge.checks[check_id]
        strengths = says.get(check_id)
        leak = check.leak
        for place, outcome in enumerate(check.outcomes):
            if not place:
                continue
            said = strengths[place] if strengths else 0.0
            often = max(said, leak[place])
            seen = row.get(outcome.id, 0.0)
            if said >= HARDLY or seen > 0.0:
                yield Opinion(cause, check_id, outcome.id, said if seen < OFTEN else often, seen, round(row[""]))


def of_cause(cause: str) -> list[Opinion]:
    """The opinions on one cause by the shipped knowledge; a process of its own may do it."""
    return list(opinions(load_knowledge(), cause))


def all_opinions() -> list[Opinion]:
    """On every cause, in the order of the faults. Two processes halve the wait; the answers are the same."""
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        return [opinion for found in pool.map(of_cause, FAULTS) for opinion in found]


def unexplained(found: list[Opinion]) -> list[Opinion]:
    """Conflicts that no entry of EXPLAINED accounts for."""
    return [
        each
        for each in found
        if each.verdict != "agrees" and f"{each.check} {each.outcome}" not in EXPLAINED.get(each.cause, {})
    ]


def table(found: list[Opinion]) -> list[str]:
    """Lines of the table: totals by area of agreement, then every conflict."""
    lines = []
    for verdict in ("agrees", "never shown", "not said"):
        lines.append(f"{verdict:12} {sum(opinion.verdict == verdict for opinion in found):4}")
    for opinion in found:
        if opinion.verdict != "agrees":
            lines.append(
                f"{opinion.verdict:12} {opinion.cause:26} {opinion.check:28} {opinion.outcome:22} "
                f"said {opinion.said:.2f} shown {opinion.shown:.2f} of {opinion.looks} "
                f"{EXPLAINED.get(opinion.cause, {}).get(f'{opinion.check} {opinion.outcome}', 'UNEXPLAINED')}"
            )
    return lines


if __name__ == "__main__":
    print("\n".join(table(all_opinions())))
