"""The command `trace`: what it prints, writes and returns, and how it behaves with wrong use."""

from __future__ import annotations

import argparse
import builtins
import importlib.util
import json
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest

from hertzwright.cli.measuring import trace
from hertzwright.cli.terminal.plot import Mark, Shade, columns, svg_plot, text_plot

from tiers import only


def run(*words: str) -> int:
    parser = argparse.ArgumentParser(prog="hertzwright trace")
    trace.add_arguments(parser)
    return trace.run(parser.parse_args(words))


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """A minute without load, a minute with, and a minute without in which it hunts."""
    time = np.arange(0, 180, 0.5)
    hertz = np.where((time >= 60) & (time < 120), 60.0, 61.8) + 0.6 * np.sin(2 * time) * (time >= 120)
    hertz += np.random.default_rng(0).normal(0, 0.02, time.size)
    lines = [f"{at:.1f};{value:.1f}".replace(".", ",") for at, value in zip(time, hertz, strict=True)]
    lines[20] = "10,0;---"
    path = tmp_path / "set <1> & co.csv"
    path.write_text("Zeit (s);Frequenz (Hz)\n" + "\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize("width", only([40], [40, 80, 132]))
@pytest.mark.parametrize("plot", ["blocks", "ascii"])
def test_text_fits_the_width(log: Path, capsys: pytest.CaptureFixture[str], width: int, plot: str) -> None:
    assert run(str(log), "--width", str(width), "--plot", plot) == 0
    out = capsys.readouterr().out
    assert all(len(line) <= width for line in out.splitlines())
    assert ("\u2588" in out) == (plot == "blocks")
    joined = " ".join(out.split())
    assert 'line 22: no reading: "---" is no number' in joined
    assert "swinging; the log is too slow to tell a slow swing from a jiggle" in joined
    assert "load on: 61.80 to 60.00 Hz" in joined
    assert "does not settle: it swings on" in joined
    assert "at most 0.1% of stretches" in joined


def test_plain_is_ascii_without_a_picture(log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(str(log), "--plain", "--width", "60") == 0
    out = capsys.readouterr().out
    assert out.isascii()
    assert "###" not in out
    assert run(str(log), "--plain", "--plot", "ascii") == 0
    out = capsys.readouterr().out
    assert out.isascii()
    assert "###" in out


def test_json(log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(str(log), "--json", "--loads", "0,100,0") == 0
    text = capsys.readouterr().out
    found = json.loads(text, parse_constant=lambda name: pytest.fail(f"{name} in JSON"))
    assert found["version"] == 1
    assert text == json.dumps(found, indent=2, sort_keys=True) + "\n"
    assert [stretch["kind"] for stretch in found["stretches"]] == ["steady", "steady", "swinging"]
    assert found["remark_counts"] == {"no reading": 1}
    facts = {fact["check"]: fact["answer"] for fact in found["facts"]}
    assert facts["frequency_full_load"] == "60.00 Hz"
    assert facts["swing_no_load"].endswith(" Hz")  # slow swing or fast jiggle stays open


def test_the_same_file_gives_the_same_bytes(log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(str(log), "--json") == 0
    first = capsys.readouterr().out
    assert run(str(log), "--json") == 0
    assert capsys.readouterr().out == first


def test_svg_is_well_formed_and_escaped(log: Path, tmp_path: Path) -> None:
    out = tmp_path / "plot.svg"
    assert run(str(log), "--svg", str(out), "--plain") == 0
    root = ET.fromstring(out.read_text(encoding="utf-8"))
    assert root.find("{http://www.w3.org/2000/svg}title").text == "Frequency, set <1> & co.csv"  # type: ignore[union-attr]
    assert len(root.findall("{http://www.w3.org/2000/svg}rect")) == 1 + 3


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--width", "5"), "--width 5: expected 30 or more"),
        (("--tolerance", "defualt"), 'did you mean "default"?'),
        (("--columns", "1,7"), "has columns 1 to 2, not 7"),
        (("--loads", "0,100"), "2 loads for 3 stretches, which begin at"),
        (("--loads", "0,lots,0"), "expected percent of rated"),
        (("--svg", "no/such/folder/a.svg"), "cannot be written"),
    ],
)
def test_wrong_use(log: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], message: str) -> None:
    assert run(str(log), *words) == 2
    said = capsys.readouterr()
    assert message in said.err
    assert said.out == ""


def test_the_log_is_never_overwritten(log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = log.read_bytes()
    assert run(str(log), "--svg", str(log)) == 2
    assert "is the file that is read" in capsys.readouterr().err
    assert log.read_bytes() == before


def test_bad_files_say_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = tmp_path / "bad\x1b[31m.csv"
    bad.write_text("a,b\n1,2\n")
    for path in (bad, tmp_path / "none.csv", tmp_path):
        assert run(str(path)) == 2
        said = capsys.readouterr().err
        assert said.startswith("hertzwright trace: ")
        assert "\x1b" not in said


def test_without_numpy_it_says_how_to_get_it(
    log: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    find = importlib.util.find_spec
    monkeypatch.setattr(importlib.util, "find_spec", lambda name, *rest: None if name == "scipy" else find(name, *rest))
    assert run(str(log)) == 2
    said = capsys.readouterr().err
    assert 'pip install "hertzwright[trace]"' in said
    assert "needs scipy" in said


def test_nothing_imports_numpy_before_a_trace_is_read() -> None:
    code = "import sys, hertzwright.cli.measuring.trace, hertzwright.cli.terminal.plot, hertzwright.engine.trace\n"
    code += "assert not {'numpy', 'scipy'} & set(sys.modules), sorted(sys.modules)"
    subprocess.run([sys.executable, "-c", code], check=True)


def test_a_recording_states_its_confidence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    import wave

    path = tmp_path / "hum.wav"
    at = np.arange(12 * 8000) / 8000
    sound = 0.4 * np.sin(2 * np.pi * 2 * 61.2 * at) + 0.2 * np.sin(2 * np.pi * 61.2 * at)
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(8000)
        file.writeframes((sound * 32767).astype("<i2").tobytes())
    assert run(str(path), "--width", "80", "--plot", "ascii") == 0
    out = capsys.readouterr().out
    assert "Confidence sure: 100% of the moments heard." in out
    assert "0:00 to 0:11.5: 61." in out
    assert "Hz, steady, band 0.0" in out


def test_plot_shows_every_reading() -> None:
    time = [n / 100 for n in range(5000)]
    hertz = [60.0] * 5000
    hertz[2500] = 66.0
    assert max(pair[1] for pair in columns(time, hertz, 30, 0, 50) if pair) == 66.0
    lines = text_plot(time, hertz, width=40, ascii_only=True, marks=[Mark(25.0, "")], unit="Hz")
    assert all(len(line) <= 40 and line.isascii() for line in lines)
    caret = next(line for line in lines if "^" in line).index("^")
    assert sum(len(line) > caret and line[caret] in "#'." for line in lines) >= 10


@pytest.mark.parametrize("values", [[60.0], [60.0, 60.0], [1e-9, 2e-9], [-5.0, 1e6, 3.0]])
def test_plots_of_few_or_odd_values(values: list[float]) -> None:
    time = [float(n) for n in range(len(values))]
    assert text_plot(time, values, width=40)
    ET.fromstring(svg_plot(time, values, title="<&\x00>", x_label='"', y_label="'", shades=[Shade(0, 1, 0, 1)]))


def test_empty_plots() -> None:
    assert text_plot([], [], width=40) == []
    ET.fromstring(svg_plot([], [], title="none", x_label="", y_label=""))


def test_no_prompt(log: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(builtins, "input", lambda *_: pytest.fail("asked"))
    assert run(str(log), "--plain") == 0
