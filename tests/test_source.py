"""YAML text to a tree with positions: the plain subset, and a problem with a place for everything else."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from hertzwright.engine.compiler import source
from hertzwright.engine.compiler.reader import read_folder
from hertzwright.engine.compiler.source import MappingNode, ScalarNode, SequenceNode, SourceFile, parse, plain
from hertzwright.engine.problems.problem import render

from small_knowledge import FILES, write

LOADERS = [yaml.SafeLoader, *([yaml.CSafeLoader] if yaml.__with_libyaml__ else [])]
either = pytest.mark.parametrize("loader", LOADERS)


def shown(page: SourceFile) -> list[str]:
    return [render(problem, page.text_line(problem.line)) for problem in page.problems]


@either
def test_scalars_stay_as_written(loader: Any) -> None:
    text = "a: no\nb: 12:30\nc: 010\nd: 1e-3\ne: ~\nf: '0.50'\ng:\nh: 2026-01-31\n<<: x\n"
    page = parse(text, "a.yaml", loader)
    assert page.problems == ()
    assert page.root is not None
    assert plain(page.root) == {
        "a": "no", "b": "12:30", "c": "010", "d": "1e-3", "e": "~", "f": "0.50", "g": "", "h": "2026-01-31", "<<": "x",
    }  # fmt: skip


@either
def test_every_node_knows_its_place(loader: Any) -> None:
    page = parse(
        "top:\n  list:\n    - one\n    - {key: two}\n  text: |\n    First.\n    Second.\n  last: x\n", "a", loader
    )
    top = page.root
    assert isinstance(top, MappingNode)
    under = top.values["top"]
    assert isinstance(under, MappingNode)
    assert (under.keys["list"].line, under.keys["list"].column) == (2, 3)
    found = under.values["list"]
    assert isinstance(found, SequenceNode)
    assert [(item.line, item.column) for item in found.items] == [(3, 7), (4, 7)]
    second = found.items[1]
    assert isinstance(second, MappingNode)
    assert second.values["key"] == ScalarNode("two", 4, 13)
    assert under.values["text"] == ScalarNode("First.\nSecond.\n", 5, 9, "|", 8)


@either
@pytest.mark.parametrize("text", ["\ufeffa: x\nb: y\n", "a: x\r\nb: y\r\n", "a: x\rb: y", "---\na: x\nb: y\n...\n"])
def test_byte_order_mark_and_line_ends_do_not_matter(text: str, loader: Any) -> None:
    page = parse(text.encode(), "a.yaml", loader)
    assert page.problems == ()
    assert page.root is not None
    assert plain(page.root) == {"a": "x", "b": "y"}


@either
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "a: x\nb: one: two\n",
            "w.yaml:2:7: error K005: not YAML: a colon where no key can be\n  b: one: two\n        ^\n"
            'help: put quotes round a text that has ": " in it',
        ),
        (
            "a: [one, two\n",
            "w.yaml:1:13: error K005: not YAML: a list in brackets that is not closed\n  a: [one, two\n"
            "              ^\nhelp: write `[one, two]` on one line",
        ),
        (
            "a: 'one\n",
            "w.yaml:1:4: error K005: not YAML: a quote that is not closed\n  a: 'one\n     ^\n"
            "help: close it with ', or take it out",
        ),
        (
            "a: x\n  b: y\n",
            "w.yaml:2:4: error K005: not YAML: a colon where no key can be\n    b: y\n     ^\n"
            'help: put quotes round a text that has ": " in it',
        ),
        (
            "a: x\na: y\n",
            'w.yaml:2:1: error K007: the key "a" again, first in line 1\n  a: y\n  ^\nhelp: keep one of them',
        ),
        (
            "a: {b: x, b: y}\n",
            'w.yaml:1:11: error K007: the key "b" again, first in line 1\n  a: {b: x, b: y}\n            ^\n'
            "help: keep one of them",
        ),
        (
            "a: &n x\n",
            "w.yaml:1:4: error K008: the anchor &n\n  a: &n x\n     ^\nhelp: take it out, and write repeats out",
        ),
        ("a: *n\n", "w.yaml:1:4: error K008: the alias *n\n  a: *n\n     ^\nhelp: write the value out again"),
        (
            "a: !x y\n",
            'w.yaml:1:4: error K009: the tag "!x"\n  a: !x y\n     ^\nhelp: take it out: the schema knows the kind',
        ),
        (
            "a: x\n---\nb: y\n",
            "w.yaml:2:1: error K010: a second document starts here\n  ---\n  ^\nhelp: keep one document in a file",
        ),
        (
            "# only a comment\n",
            "w.yaml:1:1: error K011: the file holds nothing\n  # only a comment\n  ^\n"
            "help: write its content, or delete the file",
        ),
        ("", "w.yaml:1:1: error K011: the file holds nothing\nhelp: write its content, or delete the file"),
        (
            "? [a]\n: x\n",
            "w.yaml:1:3: error K012: a list or mapping as a key\n  ? [a]\n    ^\nhelp: a key is one plain word",
        ),
        ("'': x\n", "w.yaml:1:1: error K012: an empty key\n  '': x\n  ^\nhelp: write the key before the colon"),
        ("a:\tx\n", "w.yaml:1:3: error K004: a tab\n  a:\\x09x\n    ^\nhelp: use spaces"),
        ("\ta: x\n", "w.yaml:1:1: error K004: a tab\n  \\x09a: x\n  ^\nhelp: use spaces"),
        (
            "a: \x00\n",
            "w.yaml:1:4: error K003: the character U+0000 cannot be seen\n  a: \\x00\n     ^\nhelp: take it out",
        ),
        (
            "a: one\u202etwo\n",
            "w.yaml:1:7: error K003: the character U+202E cannot be seen\n  a: one\\u202etwo\n        ^\n"
            "help: take it out",
        ),
        (
            'a: "\\x1b[2J"\n',
            'w.yaml:1:4: error K003: the character U+001B cannot be seen\n  a: "\\x1b[2J"\n     ^\nhelp: take it out',
        ),
    ],
)
def test_what_is_wrong_is_said_with_its_place(text: str, expected: str, loader: Any) -> None:
    page = parse(text, "w.yaml", loader)
    assert shown(page) == [expected]


def test_bytes_that_are_not_utf8_are_placed() -> None:
    page = parse("a: x\r\nb: é".encode("latin-1"), "w.yaml")
    assert shown(page) == [
        "w.yaml:2:4: error K001: byte 0xe9 is not UTF-8\n  b: \ufffd\n     ^\nhelp: save the file as UTF-8"
    ]
    assert page.root is None


def test_utf16_is_a_problem_and_not_an_exception() -> None:
    assert [problem.code for problem in parse("a: x".encode("utf-16"), "w.yaml").problems] == ["K001"]


@either
@pytest.mark.parametrize("deep", ["[" * 5000, "{a: " * 5000, "- " * 5000, "a:\n" + "? " * 5000])
def test_depth_is_limited_and_placed(deep: str, loader: Any) -> None:
    page = parse(deep, "w.yaml", loader)
    assert [problem.code for problem in page.problems] == ["K006"]
    assert page.root is None


def test_forty_levels_are_allowed_and_one_more_is_not() -> None:
    assert parse("[" * 40 + "x" + "]" * 40, "w.yaml").problems == ()
    page = parse("[" * 41 + "x" + "]" * 41, "w.yaml")
    assert shown(page)[0].startswith("w.yaml:1:41: error K006: nested more than 40 deep")


def test_size_is_limited_before_reading_on(tmp_path: Path) -> None:
    path = tmp_path / "big.yaml"
    path.write_text("a: x\n" * 100)
    page = source.read(path, "big.yaml", size_limit=100)
    assert shown(page) == ["big.yaml:1:1: error K002: longer than 100 bytes\nhelp: split the file by subject"]


@pytest.mark.parametrize("make", [lambda path: None, lambda path: path.mkdir()])
def test_missing_file_and_folder_in_its_place(make: Any, tmp_path: Path) -> None:
    make(tmp_path / "words.yaml")
    page = source.read(tmp_path / "words.yaml", "words.yaml")
    assert [(problem.code, problem.line, problem.column) for problem in page.problems] == [("K001", 1, 1)]
    assert "cannot be read: " in page.problems[0].message


def test_problems_with_repeated_keys_are_all_found_and_the_first_value_is_kept() -> None:
    page = parse("a: x\na: y\nb: &c z\na: {d: e}\n", "w.yaml")
    assert [(problem.code, problem.line) for problem in page.problems] == [("K007", 2), ("K008", 3), ("K007", 4)]
    assert page.root is not None
    assert plain(page.root) == {"a": "x", "b": "z"}


def test_a_thousand_tabs_are_not_a_thousand_problems() -> None:
    assert len(parse("\ta\n" * 1000, "w.yaml").problems) == source.PROBLEM_LIMIT


def is_sound(page: SourceFile) -> None:
    assert page.root is not None or page.problems
    for problem in page.problems:
        assert 1 <= problem.line <= max(1, len(page.lines))
        assert problem.column >= 1
        if page.lines:
            assert problem.column <= len(page.text_line(problem.line)) + 1
        assert all(part.isprintable() for part in render(problem, page.text_line(problem.line)).split("\n"))


TOKENS = (
    *(
        "a",
        "b",
        ": ",
        ":",
        "- ",
        "\n",
        "\n  ",
        "\n    ",
        "{",
        "}",
        "[",
        "]",
        ",",
        "'",
        '"',
        "|",
        ">",
        "|\n",
        "&x ",
        "*x ",
    ),
    *(
        "!t ",
        "? ",
        "#",
        " #",
        "%YAML 1.2\n",
        "---\n",
        "...\n",
        "\t",
        "\r\n",
        "\\",
        '"\\x07"',
        '"\\uD800"',
        "é",
        "\ufeff",
    ),
    *("~", "<<: ", "@", "`", "%", "0", '"\\UFFFFFFFF"', "\x85", "\u2028", "|-2\n", "!<x> "),
)
yaml_like = st.lists(st.sampled_from(TOKENS), max_size=40).map("".join)


@either
@given(st.binary(max_size=200))
def test_any_bytes_give_a_page(loader: Any, data: bytes) -> None:
    is_sound(parse(data, "w.yaml", loader))


@either
@given(yaml_like)
def test_any_text_gives_a_page(loader: Any, text: str) -> None:
    is_sound(parse(text, "w.yaml", loader))


@given(yaml_like)
def test_both_parsers_agree_on_what_is_right(text: str) -> None:
    pages = [parse(text, "w.yaml", loader) for loader in LOADERS]
    if all(not page.problems and page.root is not None for page in pages):
        assert len({repr(plain(page.root)) for page in pages if page.root is not None}) == 1


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(tmp_path_factory.mktemp("small"))


@given(st.sampled_from(sorted(FILES)), st.data())
def test_a_damaged_knowledge_base_never_raises(folder: Path, file: str, data: st.DataObject) -> None:
    text = FILES[file]
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        end = min(len(text), start + data.draw(st.integers(0, 30)))
        other = data.draw(st.one_of(yaml_like, st.sampled_from([text[start : start + 40], "x", "[]", "{}", "\n", ""])))
        text = text[:start] + other + text[end:]
    path = folder / file
    path.write_bytes(text.encode("utf-8"))
    try:
        readout = read_folder(folder)
    finally:
        path.write_text(FILES[file], encoding="utf-8")
    assert (readout.catalogue is None) == any(problem.severity == "error" for problem in readout.problems)
    for problem in readout.problems:
        page = readout.pages[problem.file]
        assert 1 <= problem.line <= max(1, len(page.lines))
        assert 1 <= problem.column <= len(page.text_line(problem.line)) + 1
        assert all(part.isprintable() for part in render(problem, readout.text_line(problem)).split("\n"))
