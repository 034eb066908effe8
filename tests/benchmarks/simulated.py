"""Sets with faults drawn from the knowledge's own model, and ways of working through them, counted in the job's minutes.

A set is called out with a complaint that it truly has, or that somebody only thinks it has, as often as the knowledge
says. What a cause shows in a group of checks is drawn once per set; the leak is drawn at every look. A remedy cures with
its chance; the proof run shows a fault left and raises a false alarm as often as the knowledge says.

Assumed: the technician sees outcomes (no numbers), does what is proposed, and hands over at the knowledge's minutes. A
set that is closed with a fault still in it, because the proof run passed by luck, comes back and is charged as if it
had been handed over.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from hertzwright.engine import Job, Knowledge
from hertzwright.engine.graph import PROOF_RUN

PROVED = {"cured": "passed", "not cured": "failed"}


@dataclass
class SimulatedSet:
    """One set: its faults, and the draws that decide what they show."""

    knowledge: Knowledge
    features: Mapping[str, object]
    faults: set[str]
    random: random.Random
    draws: dict[tuple[str, str], float] = field(default_factory=dict)
    leaks: dict[str, int] = field(default_factory=dict)

    def outcome(self, check: str) -> int:
        """Position of the outcome that a look shows now."""
        network = self.knowledge.network
        seen = _quantile(network.leak[check], self.random.random())
        # What no cause explains is there again at the next look as often as the engine takes it to be.
        if self.random.random() < self.knowledge.catalogue.words["usually"].value:
            seen = self.leaks.setdefault(check, seen)
        for cause in sorted(self.faults):
            if cause in network.shows[check]:
                key = (cause, network.group[check])
                draw = self.draws.setdefault(key, self.random.random())
                seen = max(seen, _quantile(network.shows[check][cause], draw))
        return seen

    def answer(self, check: str) -> str:
        return self.knowledge.checks[check].outcomes[self.outcome(check)].id

    def treat(self, remedy: str) -> str:
        """Carry out a remedy and its proof run; what the proof run says."""
        for cause, chance in self.knowledge.remedies[remedy].cures.items():
            if cause in self.faults and self.random.random() < chance:
                self.faults.discard(cause)
        return self.prove()

    def prove(self) -> str:
        return "not cured" if self.outcome(PROOF_RUN) else "cured"


def _quantile(distribution: Sequence[float], draw: float) -> int:
    total = 0.0
    for outcome, chance in enumerate(distribution):
        total += chance
        if draw < total:
            return outcome
    return max(outcome for outcome, chance in enumerate(distribution) if chance > 0.0)


def called_out(
    knowledge: Knowledge, count: int, seed: int, features: Mapping[str, object] | None = None
) -> Iterator[tuple[str, SimulatedSet]]:
    """(complaint, set) pairs: faults by their priors, at least one, given that the complaint is made."""
    chance = random.Random(seed)
    known = knowledge.features(features)
    network = knowledge.network
    made = 0
    while made < count:
        faults = set()
        for causes in network.parts.values():
            place, draw = 0.0, chance.random()
            for cause in causes:
                place += knowledge.causes[cause].prior(known)
                if draw < place:
                    faults.add(cause)
                    break
        if not faults:
            continue
        simulated = SimulatedSet(knowledge, features or {}, faults, random.Random(chance.random()))
        heard = []
        for complaint in knowledge.complaints.values():
            if not all(knowledge.applies(check, known) for check in complaint.says):
                continue
            shown = [simulated.answer(check) in outcomes for check, outcomes in complaint.says.items()]
            so = any(shown) if complaint.mode == "any" else all(shown)
            if simulated.random.random() < (complaint.true_when_said if so else complaint.said_when_not):
                heard.append(complaint.id)
        if heard:
            made += 1
            yield chance.choice(heard), simulated


@dataclass(frozen=True)
class Outcome:
    """How a job ended. `steps` are checks and remedies; `end` is fixed, referred or came back."""

    minutes: float
    steps: int
    end: str


def _ended(job: Job, simulated: SimulatedSet, steps: int, referred: bool) -> Outcome:
    refer = job.knowledge.catalogue.costs.refer
    if referred:
        return Outcome(job.minutes + refer, steps, "referred")
    if simulated.faults:
        return Outcome(job.minutes + refer, steps, "came back")
    return Outcome(job.minutes, steps, "fixed")


def follow_suggestions(
    complaint: str, simulated: SimulatedSet, *, deepen: int, watch: Callable[[Job], None] | None = None, most: int = 60
) -> Outcome:
    """Do what is suggested first until it says done or refer. watch: called with the job before each step."""
    job = Job(simulated.knowledge, simulated.features)
    job.record(complaint, "present")
    steps = 0
    while steps < most:
        if watch is not None:
            watch(job)
        step = job.next_steps(1, deepen)[0]
        steps += 1
        if step.kind == "check":
            job.record(step.id, simulated.answer(step.id))
        elif step.kind == "remedy":
            job.carry_out(step.id, simulated.treat(step.id))
        elif step.kind == "refer":
            return _ended(job, simulated, steps, referred=True)
        elif step.minutes == 0.0:  # proven already
            return _ended(job, simulated, steps, referred=False)
        else:
            result = simulated.prove()
            job.prove(PROVED[result])
            if result == "cured":
                return _ended(job, simulated, steps, referred=False)
    return _ended(job, simulated, steps, referred=True)


Stage = tuple[str, Mapping[str, str]]
"""A check, and the remedy for each outcome that calls for one."""

PUBLISHED_ORDER: tuple[Stage, ...] = (
    # P03: see that the load is steady (and, for an overload, what it is) before the engine is looked at.
    ("load_steadiness", {"comes_and_goes": "explain_load_cycles"}),
    ("leg_currents", {"over_rating": "reduce_load", "unbalanced": "balance_legs"}),
    # P04, P30, P33: every cylinder firing; fuel and ignition before rings and valves.
    (
        "cylinder_drop_trial",
        {"one_makes_no_difference": "restore_ignition_on_cylinder", "uneven": "set_points_and_timing"},
    ),
    ("plug_colour", {"white": "set_main_mixture", "oily": "restore_ignition_on_cylinder"}),
    ("points_gap", {"small": "set_points_and_timing", "wide": "set_points_and_timing"}),
    ("fuel_flow", {"weak": "restore_fuel_flow", "bubbles": "restore_fuel_flow"}),
    ("fuel_sample", {"stale_or_water": "renew_fuel"}),
    # P01, P05, P06, P07, P16, P18: linkage by hand, stopped.
    ("linkage_feel", {"binds": "free_linkage", "loose": "renew_linkage_joints"}),
    ("throttle_shaft_play", {"loose": "renew_linkage_joints"}),
    ("arm_clamp", {"slips": "clamp_governor_arm"}),
    # P08, P29: warm, with the choke open, before any setting.
    ("choke_plate_warm", {"closed": "free_choke", "part_open": "set_choke"}),
    # P09, P31, P32: idle mixture at no load; where the needle does nothing, look elsewhere.
    (
        "idle_needle_trial",
        {
            "better_richer": "set_idle_mixture",
            "better_leaner": "set_idle_mixture",
            "no_response": "clean_idle_passages",
        },
    ),
    # P10, P20: rod length and stops with the engine stopped.
    ("throttle_reaches_full", {"short_of_full": "set_wide_open_stop"}),
    ("wide_open_stop_gap", {"wide": "set_rod_length", "none": "set_rod_length"}),
    ("closed_stop", {"held_open": "set_closed_throttle_stop"}),
    # P11: no-load speed.
    ("frequency_no_load", {"low": "set_no_load_speed", "high": "set_no_load_speed", "very_high": "set_no_load_speed"}),
    # P12, P35: sensitivity from the fall between no load and full load, or from surging.
    (
        "frequency_spread",
        {
            "narrow": "set_sensitivity",
            "wide": "set_sensitivity",
            "very_wide": "set_sensitivity",
            "rises": "set_sensitivity",
        },
    ),
    ("sensitivity_trial", {"swing_stops": "set_sensitivity"}),
    # P13, P17: the spring only after every other adjustment.
    (
        "spring_look",
        {
            "stretched": "renew_governor_spring",
            "wrong_hole": "refit_governor_spring",
            "broken_or_off": "refit_governor_spring",
        },
    ),
    ("speed_adjuster_trial", {"no_response": "renew_governor_spring"}),
    # P05, P25: the governor itself last.
    ("arm_travel", {"gritty_or_sticky": "overhaul_governor", "backlash": "renew_governor_drive"}),
    # Not in the published order: what is left, nearest the carburetor first.
    ("main_needle_trial", {"better_richer": "set_main_mixture", "better_leaner": "set_main_mixture"}),
    ("bowl_level", {"high_or_flooding": "set_float_level", "low": "set_float_level"}),
    ("joint_spray_trial", {"speed_changes": "seal_intake_leak"}),
    ("air_cleaner_off_trial", {"picks_up": "clean_air_cleaner"}),
    ("booster_vacuum_hold", {"leaks": "renew_booster_diaphragm"}),
    ("booster_passage", {"plugged_or_cracked": "clear_booster_passage"}),
    ("booster_link_movement", {"drags": "free_booster_link", "does_not_move": "free_booster_link"}),
    ("booster_disconnect_trial", {"frequency_rises": "set_booster_spring", "no_change": "set_booster_spring"}),
    ("choke_heater_supply", {"low": "restore_choke_heater", "none": "restore_choke_heater"}),
    ("choke_heater_resistance", {"shorted": "restore_choke_heater", "open_circuit": "restore_choke_heater"}),
    ("exhaust_back_pressure", {"high": "clear_exhaust"}),
    ("ignition_timing", {"late": "set_points_and_timing", "early": "set_points_and_timing"}),
    ("compression", {"low": "retorque_head", "uneven": "free_valve"}),
    ("second_meter", {"disagrees": "use_true_meter"}),
    ("regulator_fixed_trial", {"swing_stops": "renew_voltage_regulator"}),
)


def work_through_the_order(
    complaint: str, simulated: SimulatedSet, order: Sequence[Stage] = PUBLISHED_ORDER
) -> Outcome:
    """From the top: each check, its remedy where the check calls for one, a proof run, on to the next until it passes.

    A remedy is done once. At the end of the list comes a last proof run, then the set is handed over. The complaint
    plays no part.
    """
    job = Job(simulated.knowledge, simulated.features)
    job.record(complaint, "present")
    done: set[str] = set()
    steps = 0
    for check, remedies in order:
        if check not in job.checks:
            continue
        answer = simulated.answer(check)
        job.record(check, answer)
        steps += 1
        remedy = remedies.get(answer)
        if remedy is None or remedy in done:
            continue
        done.add(remedy)
        steps += 1
        result = simulated.treat(remedy)
        job.carry_out(remedy, result)
        if result == "cured":
            return _ended(job, simulated, steps, referred=False)
    return _ended(job, simulated, steps, referred=True)
