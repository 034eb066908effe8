"""Knowledge files, folders and facts files that are damaged, odd or hostile: problems with places, never a traceback,
never a wait without end, and nothing in them runs."""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hertzwright.cli.app import main
from hertzwright.cli.files import facts
from hertzwright.engine import Knowledge, KnowledgeError, load_knowledge
from hertzwright.engine.compiler import schema, source
from hertzwright.engine.compiler.reader import FOLDERS, LIMIT, read_folder
from hertzwright.engine.problems.problem import HertzwrightError, Problem, printable, render

from mutations import POWERLESS, any_yaml, damaged, limited
from small_knowledge import FILES, write

SHIPPED = Path(__file__).parents[1] / "knowledge"
TEXTS = {
    path.relative_to(SHIPPED).as_posix(): path.read_text(encoding="utf-8") for path in sorted(SHIPPED.rglob("*.yaml"))
}
FACTS = """\
set: {booster: none, cylinders: "2"}
tolerance: default
facts:
  - {complaint: floats_high, answer: present}
  - {check: frequency, answer: 64.6 Hz}
  - {check: stop_gap, answer: none}
  - remedy: set_rod
    result: not cured
"""
posix = pytest.mark.skipif(sys.platform == "win32", reason="needs the processes and files of POSIX")


def kind_of(file: str) -> str:
    folder, _, name = file.rpartition("/")
    return FOLDERS[folder] if folder else name.removesuffix(".yaml")


def visible(text: str) -> bool:
    """Whether a text has no character that moves a cursor or hides, but for line ends."""
    return all(line.isprintable() for line in text.split("\n"))


def placed(problem: Problem, page: source.SourceFile | None) -> None:
    """A problem stands within its file, and is shown without anything that moves a cursor."""
    assert problem.line >= 1
    assert problem.column >= 1
    text_line = ""
    if page is not None:
        text_line = page.text_line(problem.line)
        assert problem.line <= max(1, len(page.lines))
        assert problem.column <= len(text_line) + 1
    shown = render(problem, text_line)
    assert shown.startswith(f"{problem.file}:{problem.line}:{problem.column}: ")
    assert visible(shown)
    assert visible(str(problem))


def copied(folder: Path) -> Path:
    for file, text in TEXTS.items():
        (folder / file).parent.mkdir(parents=True, exist_ok=True)
        (folder / file).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return copied(tmp_path_factory.mktemp("knowledge"))


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(tmp_path_factory.mktemp("small"))


@contextlib.contextmanager
def holding(folder: Path, file: str, data: bytes) -> Iterator[None]:
    """The folder with other bytes in one file."""
    before = (folder / file).read_bytes()
    (folder / file).write_bytes(data)
    try:
        yield
    finally:
        (folder / file).write_bytes(before)


def run(*words: str) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = main(list(words))
    return status, out.getvalue(), err.getvalue()


# ---- one file


@given(st.data())
def test_a_damaged_file_gives_a_page_and_problems_in_it(data: st.DataObject) -> None:
    file = data.draw(st.sampled_from(sorted(TEXTS)))
    content = data.draw(damaged(TEXTS[file]))
    page = source.parse(content, file)
    assert page.root is not None or page.problems
    for problem in (*page.problems, *schema.problems(kind_of(file), page)):
        placed(problem, page)
        assert problem.file == file


@given(st.sampled_from(schema.KINDS), st.one_of(any_yaml, st.binary(max_size=300)))
def test_any_yaml_and_any_bytes_give_a_page_and_problems_in_it(kind: str, content: bytes) -> None:
    page = source.parse(content, "any.yaml")
    assert page.root is not None or page.problems
    for problem in (*page.problems, *schema.problems(kind, page)):
        placed(problem, page)


# ---- a folder


def read_and_shown(folder: Path) -> None:
    """Read a folder, and see that every problem has a place and is shown as it should be."""
    readout = read_folder(folder)
    status, out, err = run("knowledge", "check", "--plain", "--knowledge", str(folder))
    errors = [problem for problem in readout.problems if problem.severity == "error"]
    assert (readout.catalogue is None) == bool(errors)
    assert status == bool(errors)
    for problem in readout.problems:
        placed(problem, readout.pages.get(problem.file))
    assert visible(out)
    assert visible(err)
    if readout.problems:
        assert printable(readout.problems[0].message) in out
    else:
        assert "No problems" in out


@given(st.sampled_from(sorted(FILES)), st.data())
def test_a_small_folder_with_a_damaged_file_is_read_and_shown(small: Path, file: str, data: st.DataObject) -> None:
    with holding(small, file, data.draw(damaged(FILES[file]))):
        read_and_shown(small)


@settings(max_examples=5)
@given(st.data())
def test_the_shipped_folder_with_a_damaged_file_is_read_and_shown(folder: Path, data: st.DataObject) -> None:
    file = data.draw(st.sampled_from(sorted(TEXTS)))
    with holding(folder, file, data.draw(damaged(TEXTS[file]))):
        read_and_shown(folder)


@pytest.mark.parametrize("form", ["--json", "--github"])
def test_the_other_forms_of_check_show_nothing_raw(folder: Path, form: str) -> None:
    content = 'words:\n  "us\u2067u\u00ad\u200b": {value: "\\x1b[2J", brief: \u202e, k\u0007: x}\n'
    with holding(folder, "words.yaml", content.encode()):
        status, out, _ = run("knowledge", "check", form, "--knowledge", str(folder))
    assert status == 1
    assert visible(out)


def unreadable(path: Path) -> None:
    path.symlink_to(path)  # a loop: nobody may read it, not even root


def folder_in_its_place(path: Path) -> None:
    path.mkdir()


def pipe(path: Path) -> None:
    os.mkfifo(path)


def device(path: Path) -> None:
    path.symlink_to("/dev/zero")


def nothing_there(path: Path) -> None:
    path.symlink_to(path.with_name("gone"))


@posix
@pytest.mark.parametrize("file", ["words.yaml", "areas/zz.yaml", "cases/zz.yaml", "trimming.yaml"])
@pytest.mark.parametrize("make", [unreadable, folder_in_its_place, pipe, device, nothing_there])
def test_what_is_no_file_is_a_problem_and_holds_nothing_up(tmp_path: Path, make: object, file: str) -> None:
    write(tmp_path)
    (tmp_path / file).unlink(missing_ok=True)
    assert callable(make)
    make(tmp_path / file)
    status, out, err = run("knowledge", "check", "--plain", "--knowledge", str(tmp_path))
    if file == "trimming.yaml" and status == 0:  # a knowledge base may do without it, also by a link to nowhere
        assert make in (unreadable, nothing_there)
        return
    assert status == 1
    assert f"{file}:1:1: error K001: cannot be read: " in out + err
    with pytest.raises(KnowledgeError):
        load_knowledge(tmp_path)


@posix
def test_a_file_nobody_may_read_is_a_problem(tmp_path: Path) -> None:
    write(tmp_path)
    (tmp_path / "areas" / "linkage.yaml").chmod(0)
    if limited(f"{POWERLESS}\nopen(sys.argv[1])", tmp_path / "areas" / "linkage.yaml").returncode == 0:
        pytest.skip("whoever runs this may read everything")
    done = limited(POWERLESS + CHECKED, tmp_path)
    assert done.returncode == 1
    assert "areas/linkage.yaml:1:1: error K001: cannot be read: Permission denied" in done.stdout


@posix
@pytest.mark.parametrize(
    "name",
    ["\x1b[2J\x07.yaml", "\u202elmay.yaml", "two\nlines.yaml", "\x1b]0;t\x07.YML", os.fsdecode(b"\x9b2J\xff.yaml")],
)
@pytest.mark.parametrize("inside", ["", "areas", "cases"])
def test_a_file_name_that_cannot_be_seen_is_not_read_and_told_without_it(
    tmp_path: Path, name: str, inside: str
) -> None:
    write(tmp_path)
    (tmp_path / inside / name).write_text(FILES["areas/linkage.yaml"], encoding="utf-8")
    for form in ("--plain", "--json", "--github"):
        status, out, err = run("knowledge", "check", form, "--knowledge", str(tmp_path))
        assert status == 0
        assert "this file is not read" in out
        assert visible(out + err)
    assert {problem.code for problem in read_folder(tmp_path).problems} >= {"K013"}


@posix
def test_a_folder_that_leads_round_in_a_circle_ends(tmp_path: Path) -> None:
    write(tmp_path)
    (tmp_path / "again").symlink_to(tmp_path)
    shutil.rmtree(tmp_path / "cases")
    (tmp_path / "cases").symlink_to(tmp_path / "cases")
    # A link to itself is no empty folder: what it holds is not known, and that is said.
    assert [(problem.code, problem.file) for problem in read_folder(tmp_path).problems] == [("K001", "cases")]


# ---- size: in children with limits on processor time and memory

# Each just under the limit of size, or far above it.
BIG = {
    "keys": "".join(f"k{number}: x\n" for number in range(45_000)),
    "a million keys": "".join(f"k{number}: x\n" for number in range(1_000_000)),
    "one key over and over": "a: x\n" * 99_000,
    "words without end": "words:\n" + "".join(f'  w{number}: {{value: "0.5"}}\n' for number in range(20_000)),
    "ten megabytes": TEXTS["words.yaml"] + "# padding\n" * 1_000_000,
    "a hundred thousand deep": "[" * 100_000,
    "deep in lines": "".join(" " * depth + "a:\n" for depth in range(990)),
    "mappings deep": "{a: " * 100_000,
    "a list": "[" + "x," * 249_000 + "x]",
    "one line": "words: " + "x " * 249_000,
    "one key": "k" * 499_000 + ": x",
    "an open quote": 'words: "' + "\\x1b" * 120_000,
    "figures": 'words: {usually: {value: "' + "9" * 499_000 + '"}}',
    "aliases": "a: &a [x, x, x, x, x, x, x, x, x]\n"
    + "".join(
        f"{new}: &{new} [{', '.join(['*' + old] * 9)}]\n" for old, new in zip("abcdefghi", "bcdefghij", strict=True)
    ),
    "tabs": "\t\n" * 249_000,
    "blank lines": "\n" * 499_000,
    "documents": "---\n" * 120_000,
}
CHECKED = """
from hertzwright.cli.app import main
sys.exit(main(["knowledge", "check", "--plain", "--knowledge", sys.argv[1]]))
"""


@posix
@pytest.mark.parametrize(
    "what", [pytest.param(what, marks=[pytest.mark.nightly] if place % 4 else []) for place, what in enumerate(BIG)]
)
def test_size_and_depth_take_bounded_time_and_memory(tmp_path: Path, what: str) -> None:
    write(tmp_path)
    (tmp_path / "words.yaml").write_text(BIG[what], encoding="utf-8")
    done = limited(CHECKED, tmp_path)
    assert done.returncode == 1, done.stderr[-2000:]
    assert "words.yaml:" in done.stdout
    assert "Traceback" not in done.stderr
    assert done.stdout.count("words.yaml:") <= 2 * LIMIT


@posix
@pytest.mark.parametrize(
    ("file", "before", "many"),
    [
        pytest.param("areas/linkage.yaml", "    shows:\n", [f"      frequency_no_lo{number}: {{hig: usualy}}\n" for number in range(9_000)], marks=pytest.mark.nightly),
        pytest.param("areas/linkage.yaml", "causes:\n", [f"  c{number}: {{how_common: seldm, shows: {{swing: {{}}}}}}\n" for number in range(8_000)], marks=pytest.mark.nightly),
        ("cases/linkage.yaml", "cases:\n", [f"  c{number}: {{facts: [{{check: frequency_no_loa, answer: 64 Hzz}}], truth: [rod_lon]}}\n" for number in range(6_000)]),
        pytest.param("order.yaml", "order:\n", [f"  r{number}: {{kind: look_first, before: [c{number + 1}], after: [c{number}]}}\n" for number in range(6_000)], marks=pytest.mark.nightly),
        pytest.param("features.yaml", "features:\n", [f"  f{number}: {{kind: choice, choices: [a, a], default: b}}\n" for number in range(8_000)], marks=pytest.mark.nightly),
    ],
)  # fmt: skip
def test_slips_without_end_take_bounded_time(tmp_path: Path, file: str, before: str, many: list[str]) -> None:
    copied(tmp_path)
    assert before in TEXTS[file]
    (tmp_path / file).write_text(TEXTS[file].replace(before, before + "".join(many), 1), encoding="utf-8")
    done = limited(CHECKED, tmp_path)
    assert done.returncode == 1, done.stderr[-2000:]
    assert " more problem" in done.stdout
    assert done.stdout.count(f"{file}:") <= 3 * LIMIT


@posix
def test_nothing_in_a_file_runs(tmp_path: Path) -> None:
    proof = tmp_path / "ran"
    write(tmp_path)
    bad = [
        f'!!python/object/apply:os.system ["touch {proof}"]',
        f"!!python/object/apply:subprocess.check_call [[touch, {proof}]]",
        f"!!python/object/new:type {{args: [x, !!python/tuple [], {{}}], state: !!python/name:os.system , listitems: [touch {proof}]}}",
        f"!!python/module:this {proof}",
    ]
    for text in bad:
        (tmp_path / "words.yaml").write_text(f"words: {text}\n", encoding="utf-8")
        status, out, _ = run("knowledge", "check", "--plain", "--knowledge", str(tmp_path))
        assert status == 1
        assert "K009: the tag " in out
        (tmp_path / "facts.yaml").write_text(f"facts: {text}\n", encoding="utf-8")
        assert run("rank", str(tmp_path / "facts.yaml"))[0] == 2
    assert not proof.exists()
    assert "this" not in sys.modules


# ---- facts


@pytest.fixture(scope="module")
def knowledge(small: Path) -> Knowledge:
    return load_knowledge(small)


@given(st.one_of(damaged(FACTS), any_yaml, st.binary(max_size=200)))
def test_any_facts_file_gives_facts_or_errors_with_lines(knowledge: Knowledge, content: bytes) -> None:
    page = source.parse(content, "f.yaml")
    try:
        found = facts.facts_of(page)
    except facts.FactsError as error:
        for line in str(error).split("\n"):
            number = line.removeprefix("f.yaml:").partition(":")[0]
            assert line.startswith("f.yaml:")
            assert 1 <= int(number) <= max(1, len(page.lines))
            assert visible(line)
        return
    try:
        job = facts.job_of(knowledge, found, "default")
    except HertzwrightError as error:
        assert visible(str(error))
        return
    assert len(job.events) == 1 + len(found.facts)


@settings(max_examples=60)
@given(damaged(FACTS))
def test_rank_and_start_take_any_facts_file(small: Path, content: bytes) -> None:
    path, home = small.parent / "facts.yaml", small.parent / "home"
    path.write_bytes(content)
    for words in (
        ["rank", str(path), "--plain"],
        ["rank", str(path), "--json"],
        ["start", "--from", str(path), "--name", "x", "--acknowledge", "--folder", str(home), "--plain"],
    ):
        status, out, err = run(*words, "--knowledge", str(small))
        assert status in (0, 2)
        assert visible(out)
        assert visible(err)
        if status:
            assert err.startswith("hertzwright: ")
        elif "--json" in words:
            assert json.loads(out)["version"] == 1
    shutil.rmtree(home, ignore_errors=True)


@posix
@pytest.mark.parametrize(
    ("what", "way"),
    [("aliases", "file")]
    + [
        pytest.param(what, "file", marks=pytest.mark.nightly)
        for what in ("ten megabytes", "facts", "a hundred thousand deep", "keys", "wrong facts", "device")
    ]
    + [("ten megabytes", "pipe"), pytest.param("device", "pipe", marks=pytest.mark.nightly)],
)
def test_a_facts_file_of_any_size_takes_bounded_time_and_memory(tmp_path: Path, what: str, way: str) -> None:
    path = tmp_path / "facts.yaml"
    texts = {
        **BIG,
        "facts": "facts:\n" + "- {check: frequency_no_load, answer: 64.1 Hz}\n" * 9_000,
        "wrong facts": "facts:\n" + "- x\n" * 120_000,
    }
    if what == "device":
        path = Path("/dev/zero")
    else:
        path.write_text(texts[what], encoding="utf-8")
    done = limited(
        """
        import os
        from hertzwright.cli.app import main
        name = sys.argv[1]
        if sys.argv[2] == "pipe":
            os.dup2(os.open(name, os.O_RDONLY), 0)
            name = "-"
        sys.exit(main(["rank", name]))
        """,
        path,
        way,
    )
    assert done.returncode == 2, done.stderr[-2000:]
    assert done.stderr.startswith("hertzwright: ")
    assert "Traceback" not in done.stderr
