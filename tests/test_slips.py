"""Slips that a beginner makes: one message each, at the slip and not where it is noticed, with what to do."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import hertzwright.knowledge
from hertzwright.engine.compiler import read_folder
from hertzwright.engine.compiler.slips import first_slip

from small_knowledge import FILES, write

AREA, CHECKS, CASES = "areas/linkage.yaml", "checks/linkage.yaml", "cases/linkage.yaml"
SHIPPED = sorted(Path(next(iter(hertzwright.knowledge.__path__))).rglob("*.yaml"))

# What it is, the file, what stands there and what is written in its place; where it is told, and how.
SLIPS = [
    ('unclosed double quote', CHECKS, 'minutes: "1"', 'minutes: "1',
     '7:14', 'K005: not YAML: a quote that is not closed (help: close it with ", or take it out)'),
    ('unclosed quote in list', AREA, 'title: Rod too short', 'title: "Rod too short',
     '20:12', 'K005: not YAML: a quote that is not closed (help: close it with ", or take it out)'),
    ('unclosed single quote', AREA, 'title: Rod too short', "title: 'Rod too short",
     '20:12', "K005: not YAML: a quote that is not closed (help: close it with ', or take it out)"),
    ('one space too many', AREA, '    title: Rod too short', '     title: Rod too short',
     '20:6', 'K005: not YAML: one space too many: 5 in front of this line (help: take one of them out)'),
    ('one space too many mid', AREA, '    how_common: very_seldom\n    brief: The throttle does not', '     how_common: very_seldom\n    brief: The throttle does not',
     '22:6', 'K005: not YAML: one space too many: 5 in front of this line (help: take one of them out)'),
    ('one space too few mid', AREA, '    how_common: very_seldom\n    brief: The throttle does not', '   how_common: very_seldom\n    brief: The throttle does not',
     '22:4', 'K005: not YAML: one space too few: 3 here, 4 above (help: put one more in front of it)'),
    ('missing dash', CHECKS, '      - Read after the needle has settled.', '      Read after the needle has settled.',
     '11:7', 'K022: a text where a list belongs under "how" (help: start each item with `- `)'),
    ('missing dash second', CHECKS, '      - common practice\n      - {source', '      - common practice\n      {source',
     '27:7', 'K005: not YAML: an item of the list above without its dash (help: write `- ` in front of each item)'),
    ('missing dash list of steps', AREA, '      - Turn the rod end.\n', '      - Turn the rod end.\n      Turn it back.\n',
     '46:7', 'K005: not YAML: an item of the list above without its dash (help: write `- ` in front of each item)'),
    ('dash without space', AREA, '      - Turn the rod end.\n', '      -Turn the rod end.\n',
     '45:7', 'K022: a text where a list belongs under "steps" (help: a space belongs behind the dash: `- Turn the rod end.`)'),
    ('entry indented into one above', AREA, '  rod_short:\n    title: Rod too short\n    part: rod\n    how_common: very_seldom\n    brief: The throttle does not reach wide open.\n    shows:\n      frequency: {low: sometimes, high: very_seldom}\n      stop_gap: {wide: usually}\n    sources: [from memory]\n', '    rod_short:\n      title: Rod too short\n      part: rod\n      how_common: very_seldom\n      brief: The throttle does not reach wide open.\n      shows:\n        frequency: {low: sometimes, high: very_seldom}\n        stop_gap: {wide: usually}\n      sources: [from memory]\n',
     '19:5', 'K020: unknown key "rod_short" (help: it reads like an entry of its own: take two spaces out in front of it and of its lines)'),
    ('tab', AREA, '    title: Rod too short', '\ttitle: Rod too short',
     '20:1', 'K004: a tab (help: use spaces)'),
    ('no colon', AREA, '    title: Rod too short', '    title Rod too short',
     '20:5', 'K005: not YAML: no colon behind "title" (help: write `title: `)'),
    ('no space after colon', AREA, '    title: Rod too short', '    title:Rod too short',
     '20:11', 'K005: not YAML: no space behind the colon (help: write `title: `)'),
    ('colon in text', AREA, 'title: Rod too short', 'title: Rod: too short',
     '20:15', 'K005: not YAML: a colon where no key can be (help: put quotes round a text that has ": " in it)'),
    ('hash in text', AREA, 'title: Rod too short', 'title: Rod #1 too short',
     '20:16', 'K063: "#1 too short" is a comment and is left out (help: put quotes round the text, or the comment on a line of its own)'),
    ('brace unclosed', AREA, '{low: sometimes, high: very_seldom}', '{low: sometimes, high: very_seldom',
     '26:15', 'K005: not YAML: a mapping in braces that is not closed (help: write `{key: value}` on one line)'),
    ('bracket unclosed', AREA, 'sources: [from memory]', 'sources: [from memory',
     '28:13', 'K005: not YAML: a list in brackets that is not closed (help: write `[one, two]` on one line)'),
    ('comma for colon', AREA, '{wide: usually}', '{wide, usually}',
     '26:18', 'K025: nothing under "wide" (help: expected: a word from words.yaml, or a probability between 0 and 1)'),
    ('no space after colon in braces', AREA, '{wide: usually}', '{wide:usually}',
     '26:18', 'K027: "wide:usually" is not a name (help: put a space behind the colon)'),
    ('word misspelled', AREA, 'wide: usually', 'wide: usualy',
     '26:24', 'K033: no word "usualy" in words.yaml (help: did you mean "usually"?)'),
    ('word not known', AREA, 'wide: usually', 'wide: mostly',
     '26:24', 'K033: no word "mostly" in words.yaml (help: one of: usually, sometimes, seldom, very_seldom, almost_never)'),
    ('word hyphen', AREA, 'high: very_seldom', 'high: very-seldom',
     '25:41', 'K033: no word "very-seldom" in words.yaml (help: did you mean "very_seldom"?)'),
    ('word with space', AREA, 'high: very_seldom', 'high: very seldom',
     '25:41', 'K033: no word "very seldom" in words.yaml (help: did you mean "very_seldom"?)'),
    ('percent', AREA, 'wide: usually', 'wide: 75 %',
     '26:24', 'K024: "75 %" does not fit under "wide" (help: write "0.75", a share of one)'),
    ('over one', AREA, 'wide: usually', 'wide: "1.5"',
     '26:24', 'K024: "1.5" does not fit under "wide" (help: expected: a word from words.yaml, or a probability between 0 and 1)'),
    ('seventy-five', AREA, 'wide: usually', 'wide: "75"',
     '26:24', 'K024: "75" does not fit under "wide" (help: write "0.75", a share of one)'),
    ('comma decimal', AREA, 'wide: usually', 'wide: "0,75"',
     '26:24', 'K024: "0,75" does not fit under "wide" (help: write "0.75", a share of one)'),
    ('key misspelled', AREA, 'how_common: very_seldom\n    brief: The throttle does not', 'how_comon: very_seldom\n    brief: The throttle does not',
     '22:5', 'K020: unknown key "how_comon" (help: did you mean "how_common"?)'),
    ('key capital', AREA, '    brief: The throttle does not', '    Brief: The throttle does not',
     '23:5', 'K020: unknown key "Brief" (help: did you mean "brief"?)'),
    ('id with hyphen', AREA, '  rod_short:', '  rod-short:',
     '19:3', 'K027: "rod-short" is not a name (help: write rod_short)'),
    ('id capital', AREA, '  rod_short:', '  Rod_short:',
     '19:3', 'K027: "Rod_short" is not a name (help: write rod_short)'),
    ('id space', AREA, '  rod_short:', '  rod short:',
     '19:3', 'K027: "rod short" is not a name (help: write rod_short)'),
    ('check misspelled', AREA, 'stop_gap: {wide', 'stop_gpa: {wide',
     '26:7', 'K031: no check named "stop_gpa" (help: did you mean "stop_gap"?)'),
    ('outcome of other check', AREA, 'stop_gap: {wide: usually}', 'stop_gap: {high: usually}',
     '26:18', 'K032: "stop_gap" has no outcome "high" (help: one of: none, wide)'),
    ('normal outcome', AREA, 'stop_gap: {wide: usually}', 'stop_gap: {right: usually}',
     '26:18', 'K032: "right" is the normal outcome of "stop_gap" (help: leave it out: what the others leave over of 1 shows it)'),
    ('key twice', AREA, '    title: Rod too short\n', '    title: Rod too short\n    title: Rod short\n',
     '21:5', 'K007: the key "title" again, first in line 20 (help: keep one of them)'),
    ('minutes with unit', AREA, 'minutes: "10"', 'minutes: 10 min',
     '42:14', 'K024: "10 min" does not fit under "minutes" (help: expected: minutes of work, 0 or more)'),
    ('list for text', AREA, 'title: Rod too short', 'title: [Rod too short]',
     '20:12', 'K022: a list where a text belongs under "title" (help: expected: what is wrong, in a few words, without a full stop)'),
    ('text for list', AREA, 'sources: [from memory]', 'sources: from memory',
     '27:14', 'K022: a text where a list belongs under "sources" (help: write `[from memory]`)'),
    ('source not known', AREA, 'sources: [from memory]', 'sources: [my uncle]',
     '27:15', 'K023: "my uncle" is not one of the choices (help: one of: common practice, from memory)'),
    ('no source', AREA, '    sources: [from memory]\n', '',
     '19:3', 'K051: no "sources" under "rod_short" (help: name a source, `common practice` or `from memory`)'),
    ('reading without unit', CASES, 'answer: 64.1 Hz', 'answer: "64.1"',
     '8:36', 'K037: "64.1" is no answer to "frequency" (help: give the unit, Hz)'),
    ('reading wrong unit', CASES, 'answer: 64.1 Hz', 'answer: 230 V',
     '8:36', 'K037: "230 V" is no answer to "frequency" (help: give the unit, Hz)'),
    ('expect outside truth', CASES, 'leading: [rod_long]', 'leading: [rod_short]',
     '12:17', 'K104: "rod_short" is expected in the lead and was not wrong (help: `truth` names rod_long)'),
    ('answered both ways', CASES, '      - {check: stop_gap, answer: none}\n', '      - {check: stop_gap, answer: none}\n      - {check: stop_gap, answer: wide}\n',
     '10:35', 'K105: "stop_gap" was answered "none" before (help: keep one, or name the remedy done between them)'),
    ('band gap', CHECKS, 'from: "60.5", below: "62.5"', 'from: "60.6", below: "62.5"',
     '22:34', 'K052: a gap between 60.5 and 60.6 (help: start this band at 60.5)'),
    ('curly quotes', AREA, 'title: Rod too short', 'title: “Rod too short”',
     '20:12', 'K064: "“Rod too short”" stands in quotes that belong to the text (help: write straight ones, ")'),
    ('yes for Yes', CHECKS, 'dangerous: yes', 'dangerous: Yes',
     '40:16', 'K023: "Yes" is not one of the choices under "dangerous" (help: did you mean "yes"?)'),
    ('state not known', AREA, 'state: stopped', 'state: stoped',
     '41:12', 'K031: no state named "stoped" (help: did you mean "stopped"?)'),
    ('one item in a list without brackets', AREA, 'then: [set_speed]', 'then: set_speed',
     '47:11', 'K022: a text where a list belongs under "then" (help: write `[set_speed]`)'),
    ('quote in flow list', AREA, 'sources: [from memory]', 'sources: ["from memory]',
     '27:15', 'K005: not YAML: a quote that is not closed (help: close it with ", or take it out)'),
    ('feature value misspelled', AREA, '{booster: vacuum}', '{booster: vacum}',
     '31:24', 'K034: the feature "booster" cannot be "vacum": not one of its choices (help: did you mean "vacuum"?)'),
    ('capital word of strength', AREA, 'wide: usually', 'wide: Usually',
     '26:24', 'K033: no word "Usually" in words.yaml (help: did you mean "usually"?)'),
    ('number of minutes as a word', CHECKS, 'minutes: "2"', 'minutes: two',
     '32:14', 'K024: "two" does not fit under "minutes" (help: expected: minutes of work, 0 or more)'),
]  # fmt: skip


@pytest.mark.parametrize(
    ("file", "good", "bad", "where", "told"), [row[1:] for row in SLIPS], ids=[row[0] for row in SLIPS]
)
def test_a_slip_is_told_once_and_where_it_is(
    file: str, good: str, bad: str, where: str, told: str, tmp_path: Path
) -> None:
    assert good in FILES[file]
    readout = read_folder(write(tmp_path, {file: FILES[file].replace(good, bad, 1)}))
    [problem] = [str(each) for each in readout.problems]
    place, _, said = problem.removeprefix(f"{file}:").partition(": ")
    assert (place, said.partition(" ")[2]) == (where, told)


@pytest.mark.parametrize("answer", ["1923 rpm", "64.1 Hz", "64,1 Hz".replace(",", ".")])
def test_a_reading_of_a_case_may_have_any_unit_that_a_job_takes(answer: str, tmp_path: Path) -> None:
    text = FILES[CASES].replace("64.1 Hz", answer)
    assert read_folder(write(tmp_path, {CASES: text})).problems == ()


def test_line_ends_of_other_systems_are_no_slip(tmp_path: Path) -> None:
    assert read_folder(write(tmp_path, {AREA: FILES[AREA].replace("\n", "\r\n")})).problems == ()


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_nothing_that_ships_is_taken_for_a_slip(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").split("\n")
    assert first_slip(lines, len(lines)) is None


TEXTS = [path.read_text(encoding="utf-8") for path in SHIPPED if path.parent.name == "areas"]


@given(data=st.data())
def test_an_open_quote_is_told_at_its_opening_wherever_it_stands(data: st.DataObject) -> None:
    lines = data.draw(st.sampled_from(TEXTS)).split("\n")
    titles = [place for place, line in enumerate(lines) if line.startswith("    title: ")]
    at = data.draw(st.sampled_from(titles))
    lines[at] = lines[at].replace("title: ", 'title: "')
    slip = first_slip(lines, len(lines))
    assert slip is not None
    assert (slip.line, slip.column) == (at + 1, len("    title: ") + 1)


@given(data=st.data())
def test_a_line_one_space_off_is_told_where_it_stands(data: st.DataObject) -> None:
    lines = data.draw(st.sampled_from(TEXTS)).split("\n")
    keys = [
        place for place, line in enumerate(lines) if line.startswith(("    title: ", "    brief: ", "    sources:"))
    ]
    at = data.draw(st.sampled_from(keys))
    lines[at] = data.draw(st.sampled_from([" " + lines[at], lines[at][1:]]))
    slip = first_slip(lines, len(lines))
    assert slip is not None
    assert slip.line == at + 1
    assert slip.what.startswith("one space too")
