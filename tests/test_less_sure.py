"""Less sure never counts for more: metamorphic tests over every check and every complaint of the shipped knowledge.

Law held: what is known after an unsure answer lies between what is known after the same answer given for sure and what
is known without it, cause by cause; and a complaint outlives an answer that may be wrong. No number of the knowledge is
repeated here. An outside fact behind it: by total probability, evidence that is either a true look or no look at all
gives a posterior that is a weighted mean of the two (any textbook of probability; from memory).
"""

from __future__ import annotations

import pytest

from hertzwright.engine import Job, load_knowledge
from hertzwright.engine.belief import Complaining, Finding, solve, tables

from tiers import some

KNOWLEDGE = load_knowledge()
EXACT = 1e-9
SPOKEN = sorted(
    (complaint.id, check)
    for complaint in KNOWLEDGE.complaints.values()
    if complaint.retired is None
    for check in complaint.says
)


def beliefs(*answers: tuple[str, str]) -> dict[str, float]:
    job = Job(KNOWLEDGE)
    for name, answer in answers:
        job.record(name, answer)
    return job.posterior()


def in_order(sure: dict[str, float], unsure: dict[str, float], silent: dict[str, float]) -> None:
    """The unsure posterior is one and the same weighted mean of the other two, for every cause."""
    widest = max(sure, key=lambda cause: abs(sure[cause] - silent[cause]))
    apart = sure[widest] - silent[widest]
    if abs(apart) < 1e-6:
        assert unsure == pytest.approx(silent, abs=1e-6)
        return
    share = (unsure[widest] - silent[widest]) / apart
    assert 0.0 < share < 1.0, (widest, silent[widest], unsure[widest], sure[widest])
    for cause, value in unsure.items():
        assert value == pytest.approx(share * sure[cause] + (1.0 - share) * silent[cause], abs=1e-7), cause


def test_a_question_mark_does_not_erase_what_the_customer_said() -> None:
    said = ("hunts_under_load", "present")
    silent, unsure, sure = (
        beliefs(*answers)
        for answers in ((said,), (said, ("swing_half_load", "steady?")), (said, ("swing_half_load", "steady")))
    )
    in_order(sure, unsure, silent)
    assert unsure != pytest.approx(beliefs(("swing_half_load", "steady?")), abs=1e-3)


@pytest.mark.parametrize(
    "check", some([name for name in KNOWLEDGE.checks if KNOWLEDGE.checks[name].retired is None], 3)
)
def test_an_unsure_answer_to_a_check_lies_between_sure_and_silent(check: str) -> None:
    job = Job(KNOWLEDGE)
    if check not in job.checks:
        pytest.skip("not on the default set")
    silent = beliefs()
    for outcome in KNOWLEDGE.checks[check].outcomes:
        in_order(beliefs((check, outcome.id)), beliefs((check, f"{outcome.id}?")), silent)


@pytest.mark.parametrize("heard_of", some(SPOKEN, 5), ids=str)
def test_under_a_complaint_an_unsure_answer_lies_between_sure_and_silent(heard_of: tuple[str, str]) -> None:
    complaint, check = heard_of
    if check not in Job(KNOWLEDGE).checks:
        pytest.skip("not on the default set")
    for said in ("present", "absent", "unsure"):
        heard = (complaint, said)
        silent = beliefs(heard)
        for outcome in KNOWLEDGE.checks[check].outcomes:
            # The complaint comes last: some of them hold the job, and then no check that runs the set is taken.
            in_order(beliefs((check, outcome.id), heard), beliefs((check, f"{outcome.id}?"), heard), silent)


@pytest.mark.parametrize("complaint", sorted({complaint for complaint, _ in SPOKEN}))
def test_an_unsure_complaint_lies_between_present_and_silent(complaint: str) -> None:
    silent, unsure, sure = beliefs(), beliefs((complaint, "unsure")), beliefs((complaint, "present"))
    in_order(sure, unsure, silent)


def test_a_reading_that_fits_two_outcomes_does_not_erase_a_complaint() -> None:
    """An answer "one or the other" is the mean of the two sure answers, each weighed by its own chance."""
    network = KNOWLEDGE.network
    priors = {cause.id: cause.prior(KNOWLEDGE.features()) for cause in KNOWLEDGE.causes.values()}
    for complaint, check in SPOKEN:
        shown = network.says[complaint][1][check][0]
        if shown == 0 or len(network.leak[check]) == 2:  # of two outcomes both are no answer
            continue
        count = len(network.leak[check])
        totals = []
        for wanted in ({0}, {shown}, {0, shown}):
            finding = Finding(check, 0, tuple(float(place in wanted) for place in range(count)))
            found = tables(network, priors, [finding], [Complaining(complaint, 0, 0.9, 0.05)])
            totals.append(solve(found.weights, found.clues).total)
        assert totals[2] == pytest.approx(totals[0] + totals[1], rel=EXACT), (complaint, check)


def test_a_reading_that_is_sure_does_not_give_way_to_a_difference_that_is_not() -> None:
    low = ("frequency_full_load", "57 Hz")
    # Named outcomes give no difference, so there the full load reading has always counted.
    assert beliefs(("frequency_no_load", "61.5 Hz?"), low) == pytest.approx(
        beliefs(("frequency_no_load", "right?"), ("frequency_full_load", "low")), abs=EXACT
    )
    assert beliefs(low, ("frequency_spread", "4.5 Hz?")) != pytest.approx(
        beliefs(("frequency_spread", "4.5 Hz?")), abs=1e-3
    )
