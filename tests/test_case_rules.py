"""What is left out is asked about once; cases that must not lead; pairs of cases around a turning point."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.engine.compiler import load_knowledge
from hertzwright.engine.compiler.reader import Readout, read_folder
from hertzwright.engine.review import judge

from small_knowledge import FILES, write

AREA, CASES = "areas/linkage.yaml", "cases/linkage.yaml"
CAUSE = """\
  loose_{number}:
    title: Joint {number} loose
    how_common: almost_never
    brief: It knocks.
    shows:
      frequency: {{high: "0.{number}"}}
      stop_gap: {{none: "0.{number}"}}
    sources: [common practice]
"""


def crowd(others: int, more: str = "") -> str:
    """The small area, with causes beside those it has that all show in both checks; `more` is said of the third."""
    area = FILES[AREA].replace("speed_high: usually}", "speed_high: usually, " + ", ".join(
        f"loose_{number}: usually" for number in range(1, others + 1)) + "}")  # fmt: skip
    area = area.replace("      frequency: {high: usually}\n    sources: [common practice]\nremedies:",
                        f"      frequency: {{high: usually}}\n{more}    sources: [common practice]\nremedies:")  # fmt: skip
    causes = "".join(CAUSE.format(number=number) for number in range(1, others + 1))
    return area.replace("remedies:\n", causes + "remedies:\n", 1)


def asked(readout: Readout) -> list[str]:
    return [problem.message for problem in readout.problems if problem.code == "K100"]


def test_a_check_that_all_its_neighbours_show_in_is_asked_about_once(tmp_path: Path) -> None:
    readout = read_folder(write(tmp_path, {AREA: crowd(4)}))
    assert asked(readout) == ['nearly every other cause of "linkage" shows in stop_gap; "speed_high" does not']
    answered = read_folder(write(tmp_path, {AREA: crowd(4, "    unaffected: [stop_gap]\n")}))
    assert [str(problem) for problem in answered.problems] == []
    few = read_folder(write(tmp_path, {AREA: crowd(2)}))
    assert asked(few) == []  # four beside one are no custom yet


def test_what_is_unaffected_is_a_check_that_is_there(tmp_path: Path) -> None:
    readout = read_folder(write(tmp_path, {AREA: crowd(4, "    unaffected: [stop_gpa]\n")}))
    assert [problem.code for problem in readout.problems if problem.code == "K031"] == ["K031"]


def test_what_the_shipped_causes_are_said_not_to_affect_they_do_not() -> None:
    knowledge = load_knowledge()
    said = [cause for cause in knowledge.causes.values() if cause.unaffected]
    assert said
    sound = {check: knowledge.distribution(check, []) for check in {each for one in said for each in one.unaffected}}
    for cause in said:
        for check in cause.unaffected:
            assert knowledge.distribution(check, [cause.id]) == sound[check]


PAIR = """\
  rod_right_after_overhaul:
    title: The same set with a right gap
    set: {cylinders: "2"}
    facts:
      - {complaint: floats_high, answer: present}
      - {check: frequency, answer: 64.1 Hz}
      - {check: stop_gap, answer: right}
    truth: [speed_high]
    expect:
      leading: [speed_high]
      within_first: "1"
      at_least: "0.5"
      not_leading: [rod_long]
    beside: rod_after_overhaul
    sources: [from memory]
"""


def with_pair(pair: str = PAIR) -> str:
    return FILES[CASES] + pair


def test_a_pair_turns_on_one_fact(tmp_path: Path) -> None:
    readout = read_folder(write(tmp_path, {CASES: with_pair()}))
    assert [str(problem) for problem in readout.problems] == []
    knowledge = load_knowledge(tmp_path)
    turned = [judge(knowledge, knowledge.cases[name]) for name in ("rod_after_overhaul", "rod_right_after_overhaul")]
    assert [each.leading for each in turned] == ["rod_long", "speed_high"]
    assert not any(each.faults for each in turned)


@pytest.mark.parametrize(
    ("good", "bad", "said"),
    [
        ('set: {cylinders: "2"}', 'set: {cylinders: "4"}', "are not of the same set"),
        ("      - {check: frequency, answer: 64.1 Hz}\n", "", "were not asked the same"),
        ("answer: right", "answer: none", "differ in no fact"),
        ("64.1 Hz", "61 Hz", "differ in frequency, stop_gap"),
        ("truth: [speed_high]", "truth: [rod_long]", "have the same truth"),
    ],
)
def test_what_is_no_pair_is_told(good: str, bad: str, said: str, tmp_path: Path) -> None:
    readout = read_folder(write(tmp_path, {CASES: with_pair(PAIR.replace(good, bad))}))
    found = [problem.message for problem in readout.problems if problem.code == "K102"]
    assert len(found) == 1
    assert said in found[0]


def test_a_cause_that_must_not_lead_and_does_fails_its_case(tmp_path: Path) -> None:
    wrong = PAIR.replace("answer: right", "answer: none").replace("    beside: rod_after_overhaul\n", "")
    write(tmp_path, {CASES: with_pair(wrong)})
    knowledge = load_knowledge(tmp_path)
    faults = judge(knowledge, knowledge.cases["rod_right_after_overhaul"]).faults
    assert [fault for fault in faults if fault.endswith("and must not")]


def test_what_is_on_trial_says_so_and_is_weighed_like_any_other(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    on_trial = "    experimental: {since: 2026-11-27, reason: Seen on two sets only.}\n"
    area = FILES[AREA].replace("    sources: [from memory]\n", "    sources: [from memory]\n" + on_trial)
    knowledge = load_knowledge(write(tmp_path, {AREA: area}))
    plain = load_knowledge(write(tmp_path / "plain"))
    assert knowledge.causes["rod_short"].prior({}) == plain.causes["rod_short"].prior({})
    assert main(["knowledge", "show", "rod_short", "--knowledge", str(tmp_path)]) == 0
    assert "ON TRIAL since 2026-11-27: Seen on two sets only." in " ".join(capsys.readouterr().out.split())


def test_show_says_who_changed_an_item_last_and_when(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def git(*words: str, day: str) -> None:
        moment = f"{day}T12:00:00+0000"
        names = {f"GIT_{who}_{what}": said for who in ("AUTHOR", "COMMITTER")
                 for what, said in (("NAME", "Tess\x1b[31m"), ("EMAIL", "t@example.org"), ("DATE", moment))}  # fmt: skip
        subprocess.run(
            ["git", "-C", str(tmp_path), *words], check=True, capture_output=True, env={**os.environ, **names}
        )

    write(tmp_path / "knowledge")
    git("init", "-q", day="2026-01-01")
    git("add", ".", day="2026-01-01")
    git("commit", "-qm", "first", day="2026-01-01")
    area = tmp_path / "knowledge" / AREA
    area.write_text(area.read_text().replace("Rod too short", "The rod is too short"))
    git("commit", "-qam", "second", day="2026-02-02")
    area.write_text(area.read_text().replace("Somebody turned the adjuster.", "Not committed."))
    said = {}
    for name in ("rod_long", "rod_short", "speed_high"):
        assert main(["knowledge", "show", name, "--knowledge", str(tmp_path / "knowledge")]) == 0
        out = capsys.readouterr().out
        assert "\x1b" not in out
        said[name] = " ".join(out.split()).partition("Changed last: ")[2].partition(",")[0]
    assert said == {"rod_long": "2026-01-01", "rod_short": "2026-02-02", "speed_high": "2026-01-01"}
