"""Names and sense over the whole knowledge base: every rule on a wrong base, with the exact words and the place."""

from __future__ import annotations

from pathlib import Path

import pytest

import hertzwright.knowledge
from hertzwright.engine.compiler.reader import Readout, read_folder
from hertzwright.engine.compiler.writing import two_sentences

from small_knowledge import FILES, write

AREA, CHECKS, CASES = "areas/linkage.yaml", "checks/linkage.yaml", "cases/linkage.yaml"
SETTING = "setting.yaml"


def changed(folder: Path, *changes: tuple[str, str, str]) -> Readout:
    """The small knowledge with each `old` (which must be there) in a file replaced once by `new`."""
    texts = dict(FILES)
    for file, old, new in changes:
        assert old in texts[file], old
        texts[file] = texts[file].replace(old, new, 1)
    return read_folder(write(folder, texts))


def said(readout: Readout) -> list[str]:
    return [str(problem) for problem in readout.problems]


@pytest.mark.parametrize(
    ("file", "old", "new", "expected"),
    [
        (
            AREA,
            "how_common: very_seldom",
            "how_common: very_seldon",
            AREA + ':8:17: error K033: no word "very_seldon" in words.yaml (help: did you mean "very_seldom"?)',
        ),
        (
            AREA,
            "frequency: {high: usually}",
            "frequency: {right: sometimes, high: usually}",
            AREA + ':16:19: error K032: "right" is the normal outcome of "frequency" '
            "(help: leave it out: what the others leave over of 1 shows it)",
        ),
        (
            AREA,
            "if: {cylinders:",
            "if: {booster:",
            AREA + ':10:15: error K034: the feature "booster" is a choice, not a number',
        ),
        (
            SETTING,
            "needs: [rod_matched]",
            "needs: [rod_mached]",
            SETTING + ':20:13: error K031: no step of setting named "rod_mached" (help: did you mean "rod_matched"?)',
        ),
        (
            SETTING,
            "disturbs: [speed_right]",
            "needs: [speed_right]",
            SETTING + ":20:13: error K080: setting runs in a circle: speed_right before rod_matched before speed_right "
            "(help: drop one of these needs, or say `disturbs` of the one that is done again)",
        ),
        (
            SETTING,
            "{none: set_rod, wide: set_rod}",
            "{none: set_rod, wyde: set_rod}",
            SETTING + ':15:33: error K032: "stop_gap" has no outcome "wyde" (help: did you mean "wide"?)',
        ),
        (
            AREA,
            "only_if: {booster: vacuum}",
            "only_if: {bosster: vacuum}",
            AREA + ':31:15: error K034: no feature named "bosster" (help: did you mean "booster"?)',
        ),
        (
            AREA,
            "only_if: {booster: vacuum}",
            "only_if: {cylinders: ['2', '9']}",
            AREA + ':31:32: error K034: the feature "cylinders" cannot be "9": not between 1 and 8',
        ),
        (
            AREA,
            "cures: {speed_high: usually}",
            "cures: {speed_hihg: usually, speed_high: usually}",
            AREA + ':52:13: error K031: no cause named "speed_hihg" (help: did you mean "speed_high"?)',
        ),
        (
            AREA,
            "state: warm",
            "state: wram",
            AREA + ':53:12: error K031: no state named "wram" (help: did you mean "warm"?)',
        ),
        (
            AREA,
            "cautions: [hot_parts]",
            "cautions: [hot_part]",
            AREA + ':55:16: error K031: no caution named "hot_part" (help: did you mean "hot_parts"?)',
        ),
        (
            AREA,
            "then: [set_speed]",
            "then: [set_sped]",
            AREA + ':47:12: error K031: no remedy named "set_sped" (help: did you mean "set_speed"?)',
        ),
        (
            CHECKS,
            "source: shop_notes",
            "source: shop_note",
            CHECKS + ':27:18: error K031: no source named "shop_note" (help: did you mean "shop_notes"?)',
        ),
        (
            CHECKS,
            'outcome: low, below: "60.5"',
            'outcome: [low, lowest], below: "60.5"',
            CHECKS + ':21:27: error K032: "frequency" has no outcome "lowest" (help: did you mean "low"?)',
        ),
        (
            CHECKS,
            'from: "60.5"',
            'from: "60"',
            CHECKS + ":22:34: error K052: an overlap from 60 to 60.5 (help: start this band at 60.5)",
        ),
        (
            CHECKS,
            '{outcome: low, below: "60.5"}',
            '{outcome: low, from: "20", below: "60.5"}',
            CHECKS + ":21:32: error K052: the first band has a lower end (help: leave out `from`)",
        ),
        (
            CHECKS,
            '{outcome: high, from: "62.5"}',
            '{outcome: high, from: "62.5", below: "90"}',
            CHECKS + ":23:48: error K052: the last band has an upper end (help: leave out `below`)",
        ),
        (
            CHECKS,
            "{low: almost_never, high: almost_never}",
            '{low: "0.6", high: "0.6"}',
            CHECKS + ':16:5: error K047: the leaks of "frequency" sum to 1.2 (help: they sum to less than 1)',
        ),
        (
            CHECKS,
            'range: ["20", "90"]',
            'range: ["90", "20"]',
            CHECKS + ":19:15: error K055: a range from 90 to 20 (help: the lower number comes first)",
        ),
        (
            "complaints.yaml",
            "frequency: [high]",
            "frequency: [high, hihg]",
            'complaints.yaml:8:25: error K032: "frequency" has no outcome "hihg" (help: did you mean "high"?)',
        ),
        (
            "complaints.yaml",
            "    cautions: [rotating_parts]\n",
            "    stop_first: yes\n",
            'complaints.yaml:11:5: error K050: "floats_high" stops everything and names no caution '
            "(help: name the dangers under `cautions`)",
        ),
        (
            "states.yaml",
            "    dangerous: yes\n    cautions: [rotating_parts]",
            "    dangerous: yes\n    cautions: []",
            'states.yaml:11:5: error K050: "warm" is dangerous and names no caution '
            "(help: name the dangers under `cautions`)",
        ),
        (
            "states.yaml",
            "    dangerous: yes\n    cautions: [rotating_parts]",
            "    dangerous: no\n    cautions: []",
            'states.yaml:10:5: error K050: the engine turns in "warm", which names no caution '
            "(help: name the dangers under `cautions`)",
        ),
        (
            "states.yaml",
            "start_state: stopped",
            "start_state: stoped",
            'states.yaml:16:14: error K031: no state named "stoped" (help: did you mean "stopped"?)',
        ),
        (
            "tolerances.yaml",
            "      frequency:",
            "      frequencies:",
            'tolerances.yaml:6:7: error K031: no check named "frequencies" (help: did you mean "frequency"?)',
        ),
        (
            "tolerances.yaml",
            'from: "63"',
            'from: "64"',
            "tolerances.yaml:9:33: error K052: a gap between 63 and 64 (help: start this band at 63)",
        ),
        (
            "order.yaml",
            "before: [set_rod]",
            "before: [stop_gap]",
            'order.yaml:4:14: error K031: no remedy named "stop_gap" (help: one of: set_rod, set_speed)',
        ),
        (
            "features.yaml",
            "    choices: [none, vacuum]\n",
            "",
            'features.yaml:2:3: error K055: the choice "booster" has no choices (help: list them under `choices`)',
        ),
        (
            "features.yaml",
            '    range: ["1", "8"]\n',
            "",
            'features.yaml:9:3: error K055: the number "cylinders" has no range (help: add `range`, or `choices`)',
        ),
        (
            CASES,
            "truth: [rod_long]",
            "truth: [rod_lnog]",
            CASES + ':10:13: error K031: no cause named "rod_lnog" (help: did you mean "rod_long"?)',
        ),
        (
            CASES,
            "answer: present",
            "answer: yes",
            CASES + ':7:42: error K037: "yes" is no answer to a complaint (help: one of: present, absent, unknown)',
        ),
        (
            CASES,
            "answer: none",
            "answer: nono",
            CASES + ':9:35: error K037: "nono" is no answer to "stop_gap" (help: did you mean "none"?)',
        ),
        (
            CASES,
            "answer: 64.1 Hz",
            "answer: 641 Hz",
            CASES + ':8:36: error K037: "641 Hz" is no answer to "frequency" '
            "(help: readings from 20 to 90 Hz make sense)",
        ),
        (
            CASES,
            "answer: 64.1 Hz",
            "answer: 64.1 Hz 65 Hz",
            CASES + ':8:36: error K037: "64.1 Hz 65 Hz" is no answer to "frequency" (help: one number and its unit)',
        ),
        (
            CASES,
            "{check: stop_gap, answer: none}",
            "{check: stop_gap, result: cured}",
            CASES + ':9:17: error K037: a fact about a check has one more key, "answer"',
        ),
        (
            CASES,
            "{check: stop_gap, answer: none}",
            "{check: stop_gap, remedy: set_rod}",
            CASES + ":9:9: error K037: a fact names one complaint, one check or one remedy",
        ),
        (
            CASES,
            'set: {cylinders: "2"}',
            'set: {cylinders: "two"}',
            CASES + ':5:22: error K034: the feature "cylinders" cannot be "two": not a number',
        ),
        (
            CASES,
            "area: linkage",
            "area: governor",
            CASES + ':1:7: error K038: no area "governor" here (help: one of: linkage)',
        ),
    ],
)
def test_each_slip_is_said_exactly(file: str, old: str, new: str, expected: str, tmp_path: Path) -> None:
    assert said(changed(tmp_path, (file, old, new))) == [expected]


def codes(readout: Readout) -> list[str]:
    return [problem.code for problem in readout.problems]


def test_a_move_to_an_unknown_state_is_a_wrong_name_and_no_missing_move_besides(tmp_path: Path) -> None:
    assert said(changed(tmp_path, ("states.yaml", "warm: {stopped:", "warm: {stoped:"))) == [
        'states.yaml:15:10: error K031: no state named "stoped" (help: did you mean "stopped"?)',
    ]


def test_several_readings_are_understood_where_a_check_takes_several(tmp_path: Path) -> None:
    per = (CHECKS, "      scale: rated_frequency\n", "")
    for answer in ("64.1, 64.3 Hz", "64.1 Hz, 64.3 Hz", "64.1 64.3 64.5 Hz", "64.1/64.3 Hz"):
        several = changed(
            tmp_path,
            (CHECKS, "      bands:", "      per: leg\n      bands:"),
            per,
            (CASES, "answer: 64.1 Hz", f"answer: '{answer}'"),
        )
        assert said(several) == []
    wrong = changed(
        tmp_path, per, (CHECKS, "      bands:", "      per: leg\n      bands:"), (CASES, "64.1 Hz", "'64.1 V, 64 Hz'")
    )
    assert codes(wrong) == ["K037"]


def test_a_band_may_mean_several_outcomes(tmp_path: Path) -> None:
    several = changed(
        tmp_path,
        (CHECKS, '        - {outcome: low, below: "60.5"}\n', ""),
        (CHECKS, '{outcome: right, from: "60.5", below: "62.5"}', '{outcome: [right, low], below: "62.5"}'),
    )
    assert said(several) == []


def test_uneven_readings_stand_in_for_a_band(tmp_path: Path) -> None:
    two = '        - {outcome: right, from: "60.5", below: "62.5"}\n        - {outcome: high, from: "62.5"}'
    no_band = (CHECKS, two, '        - {outcome: right, from: "60.5"}')
    assert codes(changed(tmp_path, no_band)) == ["K053"]
    uneven = (
        CHECKS,
        "      scale: rated_frequency",
        "      uneven: {outcome: high, measure: spread_over_mean, above: '0.2'}",
    )
    assert said(changed(tmp_path, no_band, uneven)) == []
    wrong = (
        CHECKS,
        "      scale: rated_frequency",
        "      uneven: {outcome: hihg, measure: spread_over_mean, above: '0.2'}",
    )
    assert codes(changed(tmp_path, no_band, wrong)) == ["K032", "K053"]


def test_a_circle_of_three_is_named_step_by_step(tmp_path: Path) -> None:
    rules = """\
order:
  one:
    kind: look_first
    before: [stop_gap]
    after: [set_rod]
    why: First.
    sources: [common practice]
  two:
    kind: cure_first
    before: [set_rod]
    after: [set_speed]
    why: Second.
    sources: [common practice]
  three:
    kind: cure_first
    before: [set_speed]
    after: [stop_gap]
    why: Third.
    sources: [common practice]
"""
    readout = read_folder(write(tmp_path, {"order.yaml": rules}))
    assert said(readout) == [
        "order.yaml:14:3: error K045: the order runs in a circle: stop_gap before set_rod before set_speed before "
        "stop_gap (help: drop one of these rules)"
    ]
    again = rules.replace("kind: cure_first\n    before: [set_speed]", "kind: do_again\n    before: [set_speed]")
    assert said(read_folder(write(tmp_path, {"order.yaml": again}))) == []


def test_a_step_before_itself_is_a_circle(tmp_path: Path) -> None:
    readout = changed(tmp_path, ("order.yaml", "after: [set_speed]", "after: [set_speed, set_rod]"))
    assert said(readout) == [
        "order.yaml:2:3: error K045: the order runs in a circle: set_rod before set_rod (help: drop one of these rules)"
    ]


def test_twins_are_named_with_what_would_tell_them_apart(tmp_path: Path) -> None:
    readout = changed(tmp_path, (AREA, "      stop_gap: {none: usually}\n", "      stop_gap: {none: '0'}\n"))
    twins = [problem for problem in readout.problems if problem.code == "K042"]
    assert [str(problem) for problem in twins] == [
        AREA + ':28:3: error K042: "rod_long" and "speed_high" show the same in every check (help: a check in which '
        "only one of them shows would tell them apart, for example stop_gap)"
    ]


def test_twins_that_no_set_can_have_together_are_not_twins(tmp_path: Path) -> None:
    readout = changed(
        tmp_path,
        (AREA, "      stop_gap: {none: usually}\n", ""),
        (
            AREA,
            "    brief: The throttle cannot close.",
            "    only_if: {booster: none}\n    brief: The throttle cannot close.",
        ),
        (AREA, "stop_gap: {wide: usually}", "stop_gap: {wide: usually, none: '0.1'}"),
        ("units.yaml", "causes: [rod_long, speed_high]", "causes: [rod_long, rod_short]"),
        ("units.yaml", "causes: [speed_high, rod_long]", "causes: [rod_short, rod_long]"),
    )
    assert said(readout) == []


def test_words_and_numbers_of_the_same_strength_make_twins(tmp_path: Path) -> None:
    readout = changed(
        tmp_path,
        (AREA, "frequency: {low: sometimes, high: very_seldom}", "frequency: {high: '0.75'}"),
        (AREA, "stop_gap: {wide: usually}", "stop_gap: {none: '0.75'}"),
    )
    assert "K042" in codes(readout)


def test_retired_items_are_left_out_and_may_be_replaced(tmp_path: Path) -> None:
    retired = "retired: {since: 2026-01-31, reason: One was enough., replaced_by: rod_long}"
    readout = changed(
        tmp_path,
        (AREA, "    sources: [from memory]", f"    sources: [from memory]\n    {retired}"),
        (AREA, "{rod_long: usually, rod_short: usually}", "{rod_long: usually}"),
    )
    assert codes(readout) == ["K046", "K046"]  # what only the retired cause showed is shown by none now
    assert readout.catalogue is not None
    cause = readout.catalogue.causes["rod_short"]
    assert cause.retired is not None
    assert cause.retired.replaced_by == "rod_long"
    assert cause.prior({"booster": "vacuum", "cylinders": 2.0}) == 0.0
    other = changed(tmp_path, (AREA, "    sources: [from memory]", f"    sources: [from memory]\n    {retired}"),
                    (CASES, "truth: [rod_long]", "truth: [rod_short]"))  # fmt: skip
    assert [text for text in said(other) if "K036" in text] == [
        AREA + ':41:32: error K036: the cause "rod_short" is retired (help: use rod_long)',
        CASES + ':10:13: error K036: the cause "rod_short" is retired (help: use rod_long)',
    ]


def test_names_are_not_used_twice_over_kinds_that_answers_name(tmp_path: Path) -> None:
    readout = changed(
        tmp_path, ("complaints.yaml", "  floats_high:", "  frequency:"), (CASES, "floats_high", "frequency")
    )
    assert said(readout) == [
        CHECKS + ':3:3: error K030: the name "frequency" again, first used by the complaint in complaints.yaml, line 2 '
        "(help: choose another name)"
    ]


def test_the_same_cause_in_two_files(tmp_path: Path) -> None:
    other = FILES[AREA].replace("area: linkage", "area: governor").replace("set_", "put_")
    readout = read_folder(write(tmp_path, {"areas/governor.yaml": other}))
    twice = [problem for problem in readout.problems if problem.code == "K030"]
    assert [(problem.file, problem.line) for problem in twice] == [(AREA, 5), (AREA, 19), (AREA, 28)]


@pytest.mark.parametrize(
    "file",
    sorted(
        set(FILES)
        - {CASES, "fittings.yaml", "setting.yaml", "family.yaml", "tools.yaml", "phrases.yaml", "drawings.yaml"}
        - {"drills.yaml", "units.yaml"}
    ),
)
def test_a_missing_file_is_one_problem_and_not_a_hundred(file: str, tmp_path: Path) -> None:
    readout = read_folder(write(tmp_path, {file: None}))
    assert readout.catalogue is None
    assert [problem.code for problem in readout.problems if problem.file in (file, file.rpartition("/")[0])] == ["K001"]


def test_a_folder_from_before_the_fittings_is_read_where_its_steps_take_nothing_off(tmp_path: Path) -> None:
    fits = ("needs_", "takes_", "puts_")
    area = "\n".join(line for line in FILES[AREA].split("\n") if not line.strip().startswith(fits))
    assert said(read_folder(write(tmp_path / "old", {"fittings.yaml": None, AREA: area}))) == []
    missing = read_folder(write(tmp_path / "new", {"fittings.yaml": None}))
    assert {problem.code for problem in missing.problems} == {"K031"}


@pytest.mark.parametrize("file", sorted(FILES))
def test_a_file_that_is_no_yaml_is_one_problem_and_not_a_hundred(file: str, tmp_path: Path) -> None:
    readout = read_folder(write(tmp_path, {file: "a: b: c\n"}))
    assert [(problem.code, problem.file) for problem in readout.problems] == [("K005", file)]


@pytest.mark.parametrize("file", sorted(FILES))
def test_an_empty_file_is_one_problem(file: str, tmp_path: Path) -> None:
    readout = read_folder(write(tmp_path, {file: ""}))
    assert [(problem.code, problem.file) for problem in readout.problems] == [("K011", file)]


def test_files_that_are_not_read_are_warned_of(tmp_path: Path) -> None:
    readout = read_folder(write(tmp_path, {"areas/governor.yml": "x", "notes.yaml": "x", "areas/notes.md": "x"}))
    assert readout.catalogue is not None
    assert said(readout) == [
        "areas/governor.yml:1:1: warning K013: this file is not read (help: let its name end in .yaml)",
        "notes.yaml:1:1: warning K013: this file is not read (help: move it, rename it or delete it)",
    ]
    assert codes(readout) == ["K013", "K013"]


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    assert said(read_folder(tmp_path / "nowhere")) == [
        ".:1:1: error K001: no such folder (help: give the folder that holds words.yaml)"
    ]


def test_all_problems_are_found_at_once_and_errors_come_first(tmp_path: Path) -> None:
    readout = changed(
        tmp_path,
        ("cautions.yaml", "      Keep hands clear of the fan.", "      Keep hands clear of the fan. And the belt."),
        ("order.yaml", "[set_rod]", "[set_rdo]"),
        (CHECKS, "kind: look", "kind: lok"),
        ("words.yaml", 'value: "0.75"', "value: most"),
        ("sources.yaml", "title: Notes", "title: &a Notes"),
    )
    assert codes(readout) == ["K023", "K031", "K008", "K024", "K061"]


@pytest.mark.parametrize(
    ("line", "start"),
    [
        ("One sentence.", 0),
        ("One. Two.", 5),
        ("It stops! Look.", 10),
        ('He said "stop." Then he left.', 16),
        ("About 0.5 in. A gap of that size.", 0),
        ("See TM 5-4110, p. 4-83, and fig. 3.", 0),
        ("Set it, e.g. Monday.", 0),
        ("At 60 Hz. 62 Hz is too high.", 10),
        ("Wait ... Then look.", 0),
        ("The No. 2 cylinder.", 0),
    ],
)
def test_where_a_second_sentence_starts(line: str, start: int) -> None:
    assert two_sentences(line) == start


def test_folded_text_is_held_to_one_sentence_a_line_too(tmp_path: Path) -> None:
    folded = (
        AREA,
        "    brief: The throttle cannot close.",
        "    brief: >-\n      The throttle\n      cannot close. It sticks.",
    )
    assert said(changed(tmp_path, folded)) == [
        AREA + ":13:21: warning K061: two sentences on one line (help: start the second sentence on a line of its own)"
    ]


def test_the_shipped_knowledge_has_no_error() -> None:
    readout = read_folder(Path(hertzwright.knowledge.__file__).parent)
    assert [str(problem) for problem in readout.problems if problem.severity == "error"] == []
    assert readout.catalogue is not None
