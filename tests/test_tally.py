"""What closed jobs say of the words, and the patch that comes of it."""

from __future__ import annotations

import json
import math
import shutil
import subprocess
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hertzwright.cli.app import main
from hertzwright.cli.files import journal
from hertzwright.engine import Event, Job, Knowledge, load_knowledge
from hertzwright.engine.compiler.model import Cause
from hertzwright.engine.review.tally import (
    ClosedJob,
    Count,
    as_closed_job,
    called_out,
    nearest,
    tally,
    updated,
    without_leak,
)
from hertzwright.engine.review.word_patch import PlaceError, word_changes

from closed_jobs import CUSTOMER, closed_job, keep

special = pytest.importorskip("scipy.special")
ROOT = Path(__file__).parent.parent
CHECKS = ("linkage_feel", "swing_no_load", "arm_clamp")


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


@pytest.fixture(scope="module")
def jobs(knowledge: Knowledge) -> list[Job]:
    """Twelve sets that were all found with a dragging linkage."""
    return [closed_job(knowledge, "linkage_binding", "free_linkage", CHECKS, f"set {n}") for n in range(12)]


# ---- the arithmetic


@given(st.floats(0.005, 0.99), st.floats(1.0, 100.0), st.integers(0, 60), st.integers(0, 60))
def test_the_update_is_the_beta_posterior(present: float, worth: float, seen: int, more: int) -> None:
    """Against scipy.stats.beta."""
    stats = pytest.importorskip("scipy.stats")
    mean, low, high = updated(present, worth, seen, seen + more)
    posterior = stats.beta(worth * present + seen, worth * (1.0 - present) + more)
    assert mean == pytest.approx(posterior.mean(), rel=1e-9)
    assert low == pytest.approx(posterior.ppf(0.05), rel=1e-6, abs=1e-9)
    assert high == pytest.approx(posterior.ppf(0.95), rel=1e-6, abs=1e-9)


def test_an_update_worked_by_hand() -> None:
    """Prior mean 0.25 worth 4 jobs is Beta(1, 3). One more look that does not show it: Beta(1, 4), mean 1/5, and since
    P(X > x) = (1 - x)^4 there, the limits are 1 - 0.95^(1/4) and 1 - 0.05^(1/4)."""
    mean, low, high = updated(0.25, 4.0, 0, 1)
    assert mean == pytest.approx(0.2)
    assert low == pytest.approx(1.0 - 0.95**0.25)
    assert high == pytest.approx(1.0 - 0.05**0.25)


@given(st.floats(0.003, 0.997))
def test_the_nearest_word_is_nearest_in_log_odds(chance: float) -> None:
    words = load_knowledge().catalogue.words
    off = {name: abs(special.logit(word.value) - special.logit(chance)) for name, word in words.items()}
    assert off[nearest(load_knowledge(), chance)] == pytest.approx(min(off.values()), abs=1e-6)


# ---- counting


def test_a_job_tells_its_cause_and_only_what_was_seen_before_the_first_remedy(knowledge: Knowledge) -> None:
    job = closed_job(knowledge, "linkage_binding", "free_linkage", CHECKS, "one")
    job.record("spring_look", "sound")
    found = as_closed_job(job)
    assert set(found.shown) <= set(CHECKS)
    assert found.there["linkage_binding"] > found.there["linkage_worn"]
    assert sum(job.posterior().values()) < sum(found.there.values())


def test_common_causes_are_counted_with_their_probability(knowledge: Knowledge, jobs: list[Job]) -> None:
    read = [as_closed_job(job) for job in jobs]
    count = next(
        count for count in tally(knowledge, read).counts if count.cause == "linkage_binding" and not count.check
    )
    assert count.jobs == len(jobs)
    assert count.seen == pytest.approx(math.fsum(each.there["linkage_binding"] for each in read))
    assert count.low < count.mean < count.high
    assert count.word
    assert knowledge.catalogue.words[count.word].value > count.present


def test_strengths_are_counted_only_where_a_job_tells_one_cause(knowledge: Knowledge, jobs: list[Job]) -> None:
    read = [as_closed_job(job) for job in jobs]
    single = [each for each in read if each.cause == "linkage_binding"]
    seen = Counter(each.shown["linkage_feel"] for each in single)
    rows = [count for count in tally(knowledge, read).counts if count.check == "linkage_feel"]
    for row in rows:
        assert row.cause == "linkage_binding"
        assert (row.seen, row.jobs) == (seen[row.outcome], len(single))


def test_too_few_jobs_change_nothing(knowledge: Knowledge, jobs: list[Job]) -> None:
    assert not any(count.word for count in tally(knowledge, [as_closed_job(job) for job in jobs[:4]]).counts)


def test_jobs_that_turn_out_as_the_words_say_change_nothing(knowledge: Knowledge) -> None:
    """A cause seen just as often as its word says, at many jobs: no change, however many."""
    job = closed_job(knowledge, "linkage_binding", "free_linkage", (), "x")
    chances = {name: cause.how_common for name, cause in knowledge.causes.items()}
    read = [ClosedJob(job, chances, "", {}) for _ in range(400)]
    assert not any(count.word for count in tally(knowledge, read).counts)


def test_a_set_whose_features_change_how_common_it_is_says_nothing_of_the_word(knowledge: Knowledge) -> None:
    cause = next((each for each in knowledge.causes.values() if _conditional(each)), None)
    assert cause is not None
    features = knowledge.features({})
    test = cause.when[0][0].tests[0]
    job = Job(knowledge, {**features, test.feature: test.values[0]})
    assert cause.prior(job.features) != cause.how_common
    counts = tally(knowledge, [ClosedJob(job, {cause.id: 1.0}, "", {})] * 9).counts
    assert cause.id not in {count.cause for count in counts}


def _conditional(cause: Cause) -> bool:
    condition, how_common = cause.when[0] if cause.when else (None, 0.0)
    return condition is not None and bool(condition.tests[0].values) and how_common != cause.how_common


# ---- the patch


def copy_of_knowledge(tmp_path: Path) -> Path:
    shutil.copytree(ROOT / "knowledge", tmp_path / "knowledge", ignore=shutil.ignore_patterns("__pycache__"))
    return tmp_path / "knowledge"


def proposed(cause: str, check: str = "", outcome: str = "", word: str = "half") -> Count:
    return Count(cause, check, outcome, 0.1, 5, 9, 0.5, 0.3, 0.7, word)


@pytest.mark.parametrize("every", [7, pytest.param(1, marks=pytest.mark.nightly)])
def test_every_word_of_every_cause_can_be_changed_and_nothing_else_is(
    every: int, knowledge: Knowledge, tmp_path: Path
) -> None:
    folder = copy_of_knowledge(tmp_path)
    wanted = [proposed(cause.id) for cause in knowledge.causes.values()]
    for cause in knowledge.causes.values():
        for check, strengths in cause.shows.items():
            outcomes = knowledge.checks[check].outcomes
            wanted += [proposed(cause.id, check, outcomes[at].id) for at, value in enumerate(strengths) if at and value]
    wanted = wanted[::every]
    made = word_changes(folder, tuple(wanted))
    assert len(made) == len(wanted)
    for change in made:
        lines = change.patch.splitlines()
        removed = [line for line in lines if line.startswith("-") and not line.startswith("---")]
        added = [line for line in lines if line.startswith("+") and not line.startswith("+++")]
        assert len(removed) == len(added) <= 1, change
        for before, after in zip(removed, added, strict=True):
            assert after[1:].replace("half", "", 1).replace(" ", "") in after[1:].replace(" ", "") or before != after


def test_git_applies_the_patch_with_the_evidence_between(knowledge: Knowledge, tmp_path: Path) -> None:
    folder = copy_of_knowledge(tmp_path)
    before = {path: path.read_bytes() for path in folder.rglob("*.yaml")}
    wanted = (
        proposed("linkage_binding", word="seldom"),
        proposed("linkage_binding", "linkage_feel", "binds", word="half"),
        proposed("linkage_worn", word="seldom"),
    )
    made = word_changes(folder, wanted)
    assert {path: path.read_bytes() for path in folder.rglob("*.yaml")} == before  # nothing is written
    text = "".join(f"# evidence: 3 of 9\n{change.patch}\n" for change in made)
    subprocess.run(["git", "init", "-q"], cwd=tmp_path, check=True)
    subprocess.run(["git", "apply", "-"], cwd=tmp_path, input=text, text=True, check=True)
    changed = load_knowledge(folder)
    assert changed.causes["linkage_binding"].how_common == knowledge.catalogue.words["seldom"].value
    assert changed.causes["linkage_worn"].how_common == knowledge.catalogue.words["seldom"].value
    place = changed.checks["linkage_feel"].index("binds")
    assert changed.causes["linkage_binding"].shows["linkage_feel"][place] == 0.5
    # The same one by one says the same as all at once, and no other byte has moved.
    touched = [path for path in before if path.read_bytes() != before[path]]
    assert [path.name for path in touched] == ["linkage.yaml"]
    old, new = before[touched[0]].decode().splitlines(), touched[0].read_text().splitlines()
    assert len(old) == len(new)
    assert sum(one != other for one, other in zip(old, new, strict=True)) == 3


def test_a_word_that_is_not_there_is_a_clear_error(tmp_path: Path) -> None:
    with pytest.raises(PlaceError, match="arm_clamp"):
        word_changes(copy_of_knowledge(tmp_path), (proposed("linkage_binding", "arm_clamp", "slips"),))


# ---- at the terminal


def test_tally_prints_a_patch_and_nothing_of_the_customer(
    jobs: list[Job], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    keep(tmp_path / "jobs", jobs)
    assert main(["knowledge", "tally", "--folder", str(tmp_path)]) == 0
    out, err = capsys.readouterr()
    assert "12 jobs counted" in err
    assert "--- a/knowledge/areas/linkage.yaml" in out
    assert "# Linkage drags or sticks: there in" in out
    for form in ([], ["--json"], ["--markdown"]):
        assert main(["knowledge", "tally", str(tmp_path / "jobs"), *form]) == 0
        out, err = capsys.readouterr()
        for secret in (CUSTOMER, "eggs", str(tmp_path), "-a.jsonl"):
            assert secret not in out + err


def test_what_is_not_counted_is_said_and_a_job_given_twice_counts_once(
    knowledge: Knowledge, jobs: list[Job], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    open_job = Job(knowledge)
    open_job.record("hunts_no_load", "present")
    folder = tmp_path / "jobs"
    keep(folder, [*jobs[:2], open_job])
    path = sorted(folder.glob("*.jsonl"))[0]
    (folder / "torn.jsonl").write_bytes(journal.without_end(path.read_bytes())[:-20])
    (folder / "junk.jsonl").write_text("no job\n")
    assert main(["knowledge", "tally", str(folder), str(path), "--json"]) == 0
    out, _ = capsys.readouterr()
    found = json.loads(out)
    assert found["jobs"] == 2
    assert found["not_counted"]["given twice"] == 1
    assert found["not_counted"]["neither closed as fixed and proven nor handed over"] == 1
    assert sum(found["not_counted"].values()) == 4


def test_exported_jobs_are_counted_too(jobs: list[Job], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    keep(tmp_path / "jobs", jobs[:3])
    out = tmp_path / "sent.json"
    assert main(["jobs", "--export", "all", str(out), "--folder", str(tmp_path)]) == 0
    capsys.readouterr()
    assert main(["knowledge", "tally", str(out), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["jobs"] == 3


@pytest.mark.parametrize(
    ("words", "told_"), [(["/none/there"], "/none/there"), (["--worth", "much"], '"much"'), (["--worth=0"], '"0"')]
)
def test_wrong_use_shows_the_value(words: list[str], told_: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["knowledge", "tally", *words]) == 2
    err = capsys.readouterr().err
    assert told_ in err
    assert "Traceback" not in err


# ---- what the leak shows, what a complaint brings, and sets that were handed over


def test_the_leak_is_not_charged_to_the_cause() -> None:
    """By hand: a cause that shows an answer 25 times of 100 beside a leak of 10 is seen with it 1 - 0.75 * 0.9 = 32.5
    times; of 2000 jobs so, 500 are its own. The cause was thought to show it half the time."""
    own = without_leak([1350, 650], [0.5, 0.5], [0.9, 0.1], 20.0)
    assert math.fsum(own) == pytest.approx(2000.0)
    assert own[1] / 2000.0 == pytest.approx(0.25, abs=0.005)
    # The higher of the two is seen: seen are low 0.5 * 0.9 and high 1 - 0.7 * 0.9 where the cause shows 50 and 30.
    chances, leak = (0.2, 0.5, 0.3), (0.8, 0.1, 0.1)
    up_to = [math.fsum(chances[: n + 1]) * math.fsum(leak[: n + 1]) for n in range(3)]
    seen = [round(9000 * (up_to[n] - (up_to[n - 1] if n else 0.0))) for n in range(3)]
    own = without_leak(seen, (0.4, 0.3, 0.3), leak, 20.0)
    assert [each / 9000 for each in own] == pytest.approx(chances, abs=0.01)
    assert without_leak([3, 0], [1.0, 0.0], [1.0, 0.0], 5.0) == (3.0, 0.0)


@given(st.floats(0.01, 0.5), st.integers(1, 40), st.integers(0, 40))
def test_where_nothing_was_said_how_common_it_is_is_the_beta_posterior(
    present: float, there: int, not_there: int
) -> None:
    seen = [1.0] * there + [0.0] * not_there
    found = called_out(present, 20.0, seen, [present] * len(seen))
    assert found == pytest.approx(updated(present, 20.0, there, there + not_there), abs=0.011)


def test_jobs_that_turn_out_as_their_complaints_say_change_nothing(knowledge: Knowledge) -> None:
    """A cause of 5 sets in 100 that a complaint makes 40 in 100: seen in 40 of 100 jobs, it is as common as was said."""
    mean, low, high = called_out(0.05, 20.0, [1.0] * 40 + [0.0] * 60, [0.4] * 100)
    assert low < 0.05 < high
    assert mean == pytest.approx(0.05, abs=0.01)
    mean, low, high = called_out(0.05, 20.0, [1.0] * 70 + [0.0] * 30, [0.4] * 100)
    assert low > 0.05


def test_a_set_that_was_handed_over_counts_for_how_common_its_causes_are_and_for_no_strength(
    knowledge: Knowledge,
) -> None:
    job = Job(knowledge)
    job.record("hunts_no_load", "present")
    job.record("linkage_feel", "binds")
    over = Job.replay(knowledge, [*job.events, Event("closed", "handed_over")])
    found = as_closed_job(over)
    assert found.cause == ""
    assert found.said["linkage_binding"] == pytest.approx(_complained(knowledge)["linkage_binding"])
    counted = tally(knowledge, [found])
    assert (counted.jobs, counted.handed_over) == (1, 1)
    row = next(count for count in counted.counts if count.cause == "linkage_binding")
    assert (row.check, row.seen) == ("", found.there["linkage_binding"])
    assert not any(count.check for count in counted.counts)


def _complained(knowledge: Knowledge) -> dict[str, float]:
    job = Job(knowledge)
    job.record("hunts_no_load", "present")
    return job.posterior()


def test_with_nothing_to_count_it_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "jobs").mkdir()
    for form in ([], ["--markdown"]):
        assert main(["knowledge", "tally", "--folder", str(tmp_path), *form]) == 0
        out, err = capsys.readouterr()
        assert "No job was counted, so nothing is said of any word." in " ".join((out + err).split())
        assert "words borne on" not in out + err
    assert main(["knowledge", "tally", "--folder", str(tmp_path), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["jobs"] == 0


def test_jobs_of_several_technicians_are_counted_together_without_names(
    knowledge: Knowledge, jobs: list[Job], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sent = []
    for who, mine in (("one", jobs[:4]), ("two", jobs[4:9])):
        keep(tmp_path / who / "jobs", mine)
        sent.append(str(tmp_path / f"{who}.json"))
        words = ["jobs", "--export", "all", sent[-1], "--without-names", "--folder", str(tmp_path / who)]
        assert main(words) == 0
        text = Path(sent[-1]).read_text(encoding="ascii")
        assert CUSTOMER.split("'")[0] not in text
        assert "eggs" not in text
    capsys.readouterr()
    # The own jobs as they are, and the same ones sent on: each counts once.
    assert main(["knowledge", "tally", *sent, str(tmp_path / "one" / "jobs"), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["jobs"], found["not_counted"]["given twice"]) == (9, 4)
    read = [as_closed_job(job) for job in jobs[:9]]
    row = next(each for each in found["counts"] if (each["cause"], each["check"]) == ("linkage_binding", ""))
    assert row["seen"] == pytest.approx(math.fsum(each.there["linkage_binding"] for each in read))
    assert main(["jobs", "--without-names"]) == 2
