"""Problems: one shape, one order, one rendering; and the register of codes."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hertzwright.engine.compiler.reader import read_folder
from hertzwright.engine.problems.problem import (
    CODES,
    HertzwrightError,
    KnowledgeError,
    Problem,
    close_to,
    quoted,
    render,
    worst_first,
)

from small_knowledge import FILES, replaced, write


def test_rendering_shows_place_line_caret_and_help() -> None:
    problem = Problem.of("K031", "areas/linkage.yaml", 26, 7, 'no check named "stop_gpa"', 'did you mean "stop_gap"?')
    assert render(problem, "      stop_gpa: {wide: usually}") == (
        'areas/linkage.yaml:26:7: error K031: no check named "stop_gpa"\n'
        "        stop_gpa: {wide: usually}\n"
        "        ^\n"
        'help: did you mean "stop_gap"?'
    )


def test_rendering_without_a_line_or_a_help_leaves_them_out() -> None:
    assert render(Problem.of("K001", "words.yaml", 1, 1, "cannot be read"), "") == (
        "words.yaml:1:1: error K001: cannot be read"
    )


def test_rendering_writes_control_characters_out_and_keeps_the_caret_under_its_place() -> None:
    shown = render(Problem.of("K004", "a\x1b[31m.yaml", 1, 3, "tab\r", "use\x07spaces"), "\x1ba\tb")
    assert shown == "a\\x1b[31m.yaml:1:3: error K004: tab\\x0d\n  \\x1ba\\x09b\n       ^\nhelp: use\\x07spaces"


def test_rendering_cuts_long_lines_and_keeps_the_caret() -> None:
    shown = render(Problem.of("K060", "a.yaml", 1, 141, "long"), "x" * 140 + "Y" + "z" * 300).split("\n")
    assert len(shown[1]) <= 102
    assert shown[1][shown[2].index("^")] == "Y"


@given(st.text(), st.text(), st.text(), st.integers(1, 400))
def test_rendering_is_always_printable(message: str, help_text: str, line: str, column: int) -> None:
    shown = render(Problem.of("K005", "a.yaml", 1, column, message, help_text), line)
    assert all(part.isprintable() for part in shown.split("\n"))


def test_errors_come_before_warnings_then_by_place_and_each_once() -> None:
    late = Problem.of("K031", "b.yaml", 2, 1, "x")
    early = Problem.of("K031", "b.yaml", 1, 9, "x")
    other = Problem.of("K031", "a.yaml", 9, 9, "x")
    mild = Problem.of("K060", "a.yaml", 1, 1, "x")
    assert worst_first([mild, late, early, other, late]) == (other, early, late, mild)


def test_unknown_code_is_misuse() -> None:
    with pytest.raises(KeyError):
        Problem.of("K999", "a.yaml", 1, 1, "x")


def test_knowledge_error_carries_all_problems_and_says_the_first() -> None:
    problems = [Problem.of("K060", "a.yaml", 1, 1, "long"), Problem.of("K031", "b.yaml", 2, 1, "no check", "look")]
    error = KnowledgeError(problems)
    assert isinstance(error, HertzwrightError)
    assert error.problems == (problems[1], problems[0])
    assert str(error) == "1 error in the knowledge; first: b.yaml:2:1: error K031: no check (help: look)"


def test_close_names_are_offered_and_far_ones_are_not() -> None:
    assert close_to("stop_gpa", ["frequency", "stop_gap"]) == 'did you mean "stop_gap"?'
    assert close_to("RIGHT", ["right", "low"]) == 'did you mean "right"?'
    assert close_to("zzz", ["right"], "one of: right") == "one of: right"


def test_quoted_values_are_short_and_on_one_line() -> None:
    assert quoted("a\nb") == '"a\\x0ab"'
    assert len(quoted("x" * 1000)) == 62


def test_codes_are_registered_under_their_own_name_and_explained() -> None:
    for name, code in CODES.items():
        assert re.fullmatch(r"K[01]\d\d", name)
        assert code.code == name
        assert code.title
        assert not code.title.endswith(".")
        assert code.why.endswith(".")
        assert bool(code.bad) == bool(code.good) == bool(code.file)


def test_the_small_knowledge_with_every_good_example_has_no_problem(tmp_path: Path) -> None:
    readout = read_folder(write(tmp_path))
    assert readout.problems == ()
    assert readout.catalogue is not None


@pytest.mark.parametrize("name", [name for name, code in CODES.items() if code.bad])
def test_the_bad_example_of_a_code_gives_that_code_where_it_stands(name: str, tmp_path: Path) -> None:
    code = CODES[name]
    text, start = replaced(code.file, code.good, code.bad)
    readout = read_folder(write(tmp_path, {code.file: text}))
    found = [problem for problem in readout.problems if problem.code == name]
    assert found, [str(problem) for problem in readout.problems]
    assert {problem.severity for problem in found} == {code.severity}
    assert (readout.catalogue is None) == any(problem.severity == "error" for problem in readout.problems)
    elsewhere = {
        "K030",
        "K036",
        "K040",
        "K041",
        "K042",
        "K043",
        "K046",
        "K053",
        "K048",
        "K049",
        "K021",
        "K051",
        "K058",
        "K081",
    }  # at the name
    if name not in elsewhere:
        lines = range(start, start + code.bad.count("\n") + 1)
        assert any(problem.file == code.file and problem.line in lines for problem in found)


@pytest.mark.parametrize("name", [name for name, code in CODES.items() if not code.bad])
def test_codes_without_an_example_are_tested_by_name(name: str) -> None:
    others = [path for path in Path(__file__).parent.glob("test_*.py") if path != Path(__file__)]
    assert any(re.search(rf"\b{name}\b", path.read_text(encoding="utf-8")) for path in others)


def test_every_file_of_the_small_knowledge_is_shown_in_some_example() -> None:
    shown = {code.file for code in CODES.values() if code.file}
    assert set(FILES) - shown <= {
        "complaints.yaml",
        "tolerances.yaml",
        "trimming.yaml",
        "family.yaml",
        "tools.yaml",
        "phrases.yaml",
        "drills.yaml",
    }


def drawn() -> set[tuple[str, str]]:
    """(error, its base) for each line of the tree in the docstring of the base."""
    above: list[tuple[int, str]] = []
    found = set()
    for line in (HertzwrightError.__doc__ or "").splitlines():
        match = re.fullmatch(r"([\s│├└─]*)(\w+Error)(?: {2,}\S.*)?", line)
        if match is None:
            continue
        depth = len(match[1])
        above = [(other, name) for other, name in above if other < depth]
        if above:
            found.add((match[2], above[-1][1]))
        above.append((depth, match[2]))
    return found


def test_the_drawn_tree_of_errors_is_the_real_one() -> None:
    defined = {
        (node.name, base.id)
        for path in (Path(__file__).parent.parent / "engine").rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ClassDef)
        for base in node.bases
        if isinstance(base, ast.Name) and base.id.endswith(("Error", "Exception"))
    }
    base = {("HertzwrightError", "Exception")}
    assert base < defined
    assert drawn() == defined - base
