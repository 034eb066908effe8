"""What was typed, named or written in a file can put no control character on the terminal and no markup into a report.

The payload holds each kind that terminals act on: CSI and OSC by ESC and by C1, a link (OSC 8), a title, carriage
return, backspace, bell, delete, marks that turn the direction of text, characters without width; and for the reports
HTML, quotes, and the marks of Markdown.
"""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import sys
from collections.abc import Iterable
from html.parser import HTMLParser
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.files import journal
from hertzwright.cli.terminal import Stop, prompts
from hertzwright.cli.terminal.screen import Bar, Screen
from hertzwright.engine import Job, load_knowledge
from hertzwright.engine.problems.problem import printable

from small_knowledge import write

MOVES = "\x1b[2J\x1b[35;6m\x1b]8;;http://x\x07y\x1b]8;;\x07\x1b]0;t\x1b\\\x9b31m\x9d0;t\x9c\u202egnp\u2066\r\x08\x07\x7f\u200b\ufeff\x00"
MARKS = "<script>alert(1)</script><img src=x onerror=alert(1)> \"' & `code` *b* _i_ [x](http://evil) ![i](http://evil) | a |\n# h\n- l"
PAYLOAD = MOVES + MARKS
NAMES = ["\x1b[2J\x07\x1b]0;t\x07", "\x9b2J\u202egnp", "\r\x08\x7f\u200b", "<b>'\"&`|"]
SHIPPED = Path(__file__).parents[1] / "knowledge"
posix = pytest.mark.skipif(sys.platform == "win32", reason="such names of files are not allowed there")


def raw(text: str) -> list[str]:
    """The characters of an output that move a cursor or hide."""
    return sorted({letter for letter in text if letter != "\n" and not letter.isprintable()})


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HERTZWRIGHT_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.chdir(tmp_path)
    return tmp_path / "home" / "jobs"


@pytest.fixture
def run(home: Path, capsys: pytest.CaptureFixture[str]) -> object:
    """Runs a command and sees that nothing raw came out. Returns status and all that was printed."""

    def command(*words: str) -> tuple[int, str]:
        capsys.readouterr()
        status = main(list(words))
        out, err = capsys.readouterr()
        assert raw(out) == [], words
        assert raw(err) == [], words
        return status, out + err

    return command


@pytest.fixture
def job(home: Path) -> str:
    """A job whose set, notes and answers hold the payload."""
    knowledge = load_knowledge()
    begun = Job(knowledge, {"booster": "none"})
    begun.record("floats_high_no_load", "present")
    for word in ("Owner: ", "Site: ", "Meter: ", "Licence: ", "", "Closed: ", "Set aside: "):
        begun.note(word + PAYLOAD)
    begun.record("frequency_no_load", "64.6 Hz")
    begun.record("wide_open_stop_gap", "0.000 in")
    begun.carry_out("set_rod_length", "not cured")
    with journal.Journal.create(home, knowledge.fingerprint, PAYLOAD) as file:
        file.sync(begun.events)
        return file.ident


def test_jobs_notes_and_names_reach_no_terminal_raw(home: Path, run: object, job: str) -> None:
    assert callable(run)
    name = journal.read(home / f"{job}.jsonl").head.set
    for words in (
        ["jobs"], ["jobs", "--plain"], ["jobs", "--json"], ["jobs", "--set", name], ["jobs", "--set", name, "--json"],
        ["resume", job, "--show"], ["resume", job, "--show", "--plain"],
        ["report", job], ["report", job, "--plain"], ["report", job, "--json"], ["report", job, "--markdown", "-"],
        ["report", job, "--html", "-"], ["jobs", "--export", job, "-"], ["jobs", "--export", "all", "out.json"],
        ["report", job, "--set-name", PAYLOAD, "--site", PAYLOAD, "--meter", PAYLOAD, "--plain"],
        ["start", "--name", name, "--complaint", "floats_high_no_load", "--acknowledge", "--plain"],
    ):  # fmt: skip
        status, said = run(*words)
        assert status == 0, (words, said)
    shutil.rmtree(home)
    assert run("jobs", "--import", "out.json")[0] == 0
    assert "\\x1b[2J" in run("jobs")[1]


class Tags(HTMLParser):
    """Every element, attribute and text of a page."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: set[str] = set()
        self.attributes: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}


def test_a_report_holds_only_its_own_markup(home: Path, run: object, job: str, tmp_path: Path) -> None:
    assert callable(run)
    words = ["--set-name", PAYLOAD, "--site", PAYLOAD, "--meter", PAYLOAD]
    assert run("report", job, *words, "--html", "r.html", "--markdown", "r.md")[0] == 0
    html = (tmp_path / "r.html").read_text(encoding="utf-8")
    assert raw(html) == []
    assert "<script" not in html
    assert "&lt;script&gt;" in html
    page = Tags()
    page.feed(html)
    assert not page.tags & {"script", "img", "a", "iframe", "object", "embed", "form", "b", "link", "base"}
    assert not {name for name in page.attributes if name.startswith("on")} | (
        page.attributes & {"href", "src", "action"}
    )
    text = (tmp_path / "r.md").read_text(encoding="utf-8")
    assert raw(text) == []
    assert "<" not in text.replace("&lt;", "")
    assert not re.search(r"(?<!\\)\]\(", text)
    assert not re.search(r"(?<!\\)!\[", text)
    assert not re.search(r"(?<!\\)`", text)
    assert "http:" not in text
    assert "# h" not in text.splitlines()
    assert "- l" not in text.splitlines()


@posix
@pytest.mark.parametrize("name", ["".join(NAMES), *(pytest.param(name, marks=pytest.mark.nightly) for name in NAMES)])
def test_file_and_folder_names_reach_no_terminal_raw(run: object, tmp_path: Path, name: str) -> None:
    assert callable(run)
    odd = tmp_path / f"x{name}"
    odd.mkdir()
    facts, log, table, jobs = (str(odd / f"{name}.{end}") for end in ("yaml", "csv", "txt", "jsonl"))
    Path(facts).write_text("facts: [{check: nothing, answer: x}]")
    Path(log).write_text("time,hertz\n")
    Path(table).write_text("load;Hz\n")
    Path(jobs).write_text("{}\n")
    write(odd / "knowledge")
    (odd / "knowledge" / "words.yaml").write_text("words: [")
    (odd / "knowledge" / f"{name}.yaml").write_text("words: [")
    for words in (
        ["rank", facts], ["rank", facts, "--json"], ["rank", f"{facts}2"], ["rank", str(odd)],
        ["start", "--from", facts, "--acknowledge"], ["trace", log], ["trace", f"{log}2"], ["loadtest", "--readings", table],
        ["loadtest", "--readings", f"{table}2"], ["loadtest", "--readings", table, "--json"],
        ["resume", jobs, "--show"], ["report", jobs], ["resume", f"{jobs}2", "--show"], ["jobs", "--import", facts],
        ["jobs", "--import", f"{facts}2"], ["jobs", "--folder", str(odd)], ["resume", "--folder", str(odd), "--show"],
        ["knowledge", "check", "--knowledge", str(odd / "knowledge")],
        ["knowledge", "check", "--json", "--knowledge", str(odd / "knowledge")],
        ["knowledge", "check", "--github", "--knowledge", str(odd / "knowledge")],
        ["knowledge", "check", "--knowledge", str(odd / "none")], ["knowledge", "cases", "--knowledge", str(odd / "knowledge")],
        ["knowledge", "show", "rod_long", "--knowledge", str(odd / "knowledge")],
        ["rank", facts, "--knowledge", str(odd / "knowledge")],
        ["report", "--folder", str(odd), "--html", f"{facts}3"],
    ):  # fmt: skip
        status, said = run(*words)
        assert status in (0, 1, 2), (words, said)


@pytest.mark.parametrize(
    "words",
    [
        [PAYLOAD], ["--" + PAYLOAD], ["knowledge", PAYLOAD], ["knowledge", "explain", PAYLOAD], ["knowledge", "show", PAYLOAD],
        ["knowledge", "show", "throttle_rod_long", PAYLOAD], ["knowledge", "cases", PAYLOAD], ["rank", "--top", PAYLOAD, "x"],
        ["rank", "--" + PAYLOAD], ["rank", "x", PAYLOAD], ["rank", PAYLOAD], ["rank", "-", "--tolerance", PAYLOAD],
        ["jobs", "--set", PAYLOAD], ["jobs", "--export", PAYLOAD, "x"], ["jobs", "--import", PAYLOAD], ["jobs", PAYLOAD],
        ["resume", PAYLOAD], ["report", PAYLOAD], ["start", "--set", PAYLOAD, "--acknowledge", "--complaint", "x"],
        ["start", "--set", f"booster={PAYLOAD}", "--acknowledge", "--complaint", "x"],
        ["start", "--complaint", PAYLOAD, "--acknowledge"], ["start", "--from", PAYLOAD, "--acknowledge"],
        ["start", "--tolerance", PAYLOAD, "--acknowledge", "--complaint", "x"], ["trace", PAYLOAD], ["trace", "x", "--columns", PAYLOAD],
        ["trace", "x", "--loads", PAYLOAD], ["trace", "x", "--poles", PAYLOAD], ["loadtest", "--set", PAYLOAD],
        ["loadtest", "--readings", PAYLOAD], ["loadtest", "--connected", PAYLOAD], ["loadtest", "--meter-accuracy", PAYLOAD],
    ],
)  # fmt: skip
def test_arguments_come_back_without_what_moves_a_cursor(
    run: object, words: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert callable(run)
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"facts: []\n")))
    status, said = run(*(word.replace("\0", "") for word in words))
    assert status == 2
    assert said


def test_answers_to_options_come_back_without_what_moves_a_cursor(run: object, job: str) -> None:
    assert callable(run)
    for option in ("--record", "--carry-out"):
        for given in (PAYLOAD, f"{PAYLOAD}=x", f"frequency_no_load={PAYLOAD}", f"set_rod_length={PAYLOAD}"):
            assert run("resume", job, option, given)[0] == 2


FACTS = (
    f'set: {{"{"x" * 3}\u200d": y}}\n',
    "facts: [{check: 'fre\u200dq', answer: \u00a0x\u200c}]\n",
    "facts: [{check: frequency_no_load, answer: '64\u200d Hz'}]\n",
    "tolerance: \u200dx\n",
    "\u200dset: x\n",
    "facts: [{complaint: hunts_no_load, answer: '\U000e0041'}]\n",
)


@pytest.mark.parametrize("text", [*FACTS, PAYLOAD, f"set: {MOVES}", 'facts: [{check: "\\x1b[2J", answer: "\\x9b"}]'])
def test_a_facts_file_reaches_no_terminal_raw(run: object, tmp_path: Path, text: str) -> None:
    assert callable(run)
    (tmp_path / "facts.yaml").write_text(text, encoding="utf-8")
    for words in (
        ["rank", "facts.yaml"],
        ["rank", "facts.yaml", "--json"],
        ["start", "--from", "facts.yaml", "--acknowledge"],
    ):
        assert run(*words)[0] == 2


def test_titles_and_prose_of_knowledge_reach_no_terminal_raw(run: object, tmp_path: Path) -> None:
    """Joiners are the only invisible characters that knowledge may hold; they come out as escapes."""
    assert callable(run)
    folder = tmp_path / "k"
    shutil.copytree(SHIPPED, folder, ignore=shutil.ignore_patterns("__pycache__", "*.py"))
    for path in folder.rglob("*.yaml"):
        text = path.read_text(encoding="utf-8")
        if path.name == "tools.yaml":  # a tool is named by its title
            continue
        text = re.sub(r"^( +(?:title|brief|ask|why): )(?![|>\"'])(?=.)", "\\1\u200d\u00a0", text, flags=re.MULTILINE)
        path.write_text(text, encoding="utf-8")
    (tmp_path / "facts.yaml").write_text("facts: [{complaint: hunts_no_load, answer: present}]", encoding="utf-8")
    where = ["--knowledge", str(folder)]
    for words in (
        ["knowledge", "check"], ["knowledge", "check", "--github"], ["knowledge", "check", "--json"],
        ["knowledge", "cases", *tuple(load_knowledge().cases)[::200]],
        ["knowledge", "show", "throttle_rod_long"], ["knowledge", "show", "frequency_no_load"], ["rank", "facts.yaml"],
        ["rank", "facts.yaml", "--json"], ["start", "--acknowledge", "--complaint", "hunts_no_load"],
    ):  # fmt: skip
        status, said = run(*words, *where)
        assert status in (0, 1), said
    assert "\\u200d" in run("rank", "facts.yaml", *where)[1]


@pytest.mark.parametrize(
    "head", ["time,{}", "{},{}", "time;Frequency {} (Hz)", "# {}\ntime,hertz", "{}\n{}\n{}", "Hz{}"]
)
@pytest.mark.parametrize("row", ["{at},60.{at}", "{at},x\x1b[2J\x9b\u202e", "\x1b{at},60"])
def test_headings_and_cells_of_a_trace_reach_no_terminal_raw(run: object, tmp_path: Path, head: str, row: str) -> None:
    pytest.importorskip("numpy")
    assert callable(run)
    lines = [head.replace("{}", MOVES.replace("\r", "")), *(row.replace("{at}", str(at)) for at in range(40))]
    (tmp_path / "log.csv").write_text("\n".join(lines), encoding="utf-8")
    for words in (
        ["--plain"],
        ["--json"],
        ["--plot", "none"],
        ["--columns", f"time,{MOVES}".replace("\0", "")],
        ["--svg", "out.svg"],
    ):
        assert run("trace", "log.csv", *words)[0] in (0, 1, 2)
    if (tmp_path / "out.svg").exists():
        assert raw((tmp_path / "out.svg").read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    "text", [MOVES + ";Hz\n1;2\n", f"load;Hz\n{MOVES};60\n", f"load;Hz\nfull;{MOVES}\n", f"readings: {MOVES}\n"]
)
def test_readings_of_a_load_test_reach_no_terminal_raw(run: object, tmp_path: Path, text: str) -> None:
    assert callable(run)
    for name in ("readings.csv", "readings.yaml"):
        (tmp_path / name).write_text(text, encoding="utf-8")
        for words in (["--plain"], ["--json"], []):
            assert run("loadtest", "--readings", name, *words)[0] in (0, 1, 2)


class Types:
    """Types the payload at every prompt, then gives up."""

    def __init__(self, answers: Iterable[str]) -> None:
        self.answers = list(answers)

    def ask(self, prompt: str, words: Iterable[str] = ()) -> str:
        assert raw(prompt) == []
        if not self.answers:
            raise Stop
        return self.answers.pop(0)


@pytest.mark.parametrize("plain", [[], ["--plain"]])
def test_what_is_typed_at_a_prompt_comes_back_harmless(
    run: object, home: Path, monkeypatch: pytest.MonkeyPatch, plain: list[str]
) -> None:
    assert callable(run)
    knowledge = str(write(home.parent / "knowledge"))
    monkeypatch.setattr(
        prompts, "terminal",
        lambda *_: Types(
            [PAYLOAD, "1", PAYLOAD, "2", "9" * 5000, "1", "1", "1", f"n {PAYLOAD}", PAYLOAD, f"o {PAYLOAD}", f"r {PAYLOAD}",
             f"p {PAYLOAD}", f"o {PAYLOAD} = {PAYLOAD}", f"o frequency = {PAYLOAD}", "\u0661", "l", "w", *[PAYLOAD] * 5]
        ),
    )  # fmt: skip
    for words in (["start"], ["resume"], ["start", "--name", PAYLOAD, "--set", "booster=none"]):
        assert run(*words, "--knowledge", knowledge, *plain)[0] == 0


def test_in_colour_only_the_terminal_library_speaks_to_the_terminal(
    home: Path, job: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm-256color")
    capsys.readouterr()
    for words in (["jobs"], ["resume", job, "--show"], ["report", job]):
        assert main(words) == 0
        out = capsys.readouterr().out
        assert raw(re.sub(r"\x1b\[[0-9;]*m", "", out)) == []
        assert "\x1b[35;6m" not in out
    assert "\x1b[1m" in out  # colour was on, so this has looked at what it meant to
    out_file = io.StringIO()
    screen = Screen(file=out_file, width=60)
    for show in (screen.line, screen.heading, screen.note, screen.problem):
        show(PAYLOAD)
    screen.fact(PAYLOAD, PAYLOAD)
    screen.options([(PAYLOAD, PAYLOAD)])
    screen.caution(PAYLOAD, PAYLOAD)
    screen.bars([Bar(PAYLOAD, 0.5)])
    screen.table([PAYLOAD, PAYLOAD], [[PAYLOAD, PAYLOAD]])
    assert raw(re.sub(r"\x1b\[[0-9;]*m", "", out_file.getvalue())) == []
    assert "\x1b[35;6m" not in out_file.getvalue()


def test_the_payload_would_be_seen(home: Path, job: str) -> None:
    """The checks above can fail: each kind is in the job file, and is caught where it comes out as it is."""
    told = "".join(event.answer for event in journal.read(home / f"{job}.jsonl").events)
    assert set(raw(PAYLOAD)) <= set(told)
    assert set(raw(MOVES)) >= {"\x1b", "\x9b", "\x9d", "\u202e", "\r", "\x08", "\x07", "\x7f", "\u200b"}
    assert raw(printable(PAYLOAD)) == []
    assert json.loads(json.dumps(PAYLOAD)) == PAYLOAD
    assert os.linesep in ("\n", "\r\n")
