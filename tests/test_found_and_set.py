"""`jobs` names the fault that was found, and apart from it what was set after it."""

from __future__ import annotations

from hertzwright.cli.record.jobs import _fault
from hertzwright.engine import Job, load_knowledge

KNOWLEDGE = load_knowledge()
PROVEN = (("frequency_no_load", "61.3 Hz"), ("swing_no_load", "steady"), ("frequency_full_load", "59.4 Hz"))


def closed(complaint: str, found: tuple[tuple[str, str], ...], *remedies: str) -> Job:
    job = Job(KNOWLEDGE, {"booster": "none"})
    job.record(complaint, "present")
    for check, answer in found:
        job.record(check, answer)
    for remedy in remedies:
        job.carry_out(remedy)
    for check, answer in (*PROVEN, *((check, KNOWLEDGE.checks[check].normal) for check, _ in found)):
        job.record(check, answer)
    for check in ("frequency_no_load", "frequency_full_load"):
        job.record(check, dict(PROVEN)[check])
    job.record(complaint, "absent")
    job.close("fixed")
    return job


def test_what_was_set_after_a_fault_is_no_fault() -> None:
    found = (("swing_no_load", "1.8 Hz slow swing"), ("linkage_feel", "binds"), ("linkage_by_hand", "hangs"))
    job = closed("hunts_no_load", found, "free_linkage", "set_sensitivity", "set_no_load_speed")
    binding = KNOWLEDGE.causes["linkage_binding"].title
    assert _fault(job) == f"{binding}; set: sensitivity, speed"


def test_an_adjuster_that_was_the_fault_is_named_as_one() -> None:
    found = (("frequency_no_load", "64.5 Hz"), ("swing_no_load", "steady"), ("frequency_full_load", "62.6 Hz"),
             ("speed_adjuster_trial", "follows"), ("throttle_rest_no_load", "off_the_stops"))  # fmt: skip
    job = closed("floats_high_no_load", found, "set_no_load_speed")
    assert _fault(job) == KNOWLEDGE.causes["speed_set_high"].title


def test_a_set_that_was_only_set_in_order_has_no_fault() -> None:
    job = Job(KNOWLEDGE, {"booster": "none"})
    job.begin_setting()
    for check, answer in (("frequency_no_load", "61.3 Hz"), ("swing_no_load", "steady")):
        job.record(check, answer)
    job.set_to("no_load_speed_set", "turned", {"speed": "+0.25"}, ["set_no_load_speed"])
    for check, answer in PROVEN:
        job.record(check, answer)
    job.close("fixed")
    assert _fault(job) == "set: speed"
