"""`hertzwright trace FILE`: what a log or a sound recording of the frequency shows.

Purpose: read the file, judge it, and show stretches, load steps and findings for a job, as text, JSON and SVG.
Law: results on stdout, talk on stderr; status 0 fine, 2 wrong use or a file that cannot be used; never a prompt.
numpy and scipy are needed only here: without them the command says how to get them.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ...engine import Event, HertzwrightError, Job, Knowledge
from ...engine.job import danger
from ...engine.loadtest import read_mappings
from ...engine.problems import printable, quoted
from ..files import output_file, store
from ..record import held
from ..terminal import Mark, Screen, Shade, svg_plot, text_plot, wrapping
from . import job_entry

if TYPE_CHECKING:
    from ...engine.trace import FrequencyRecord, LoadStep, SteadyStretch, TraceReport

_KINDS = {
    "steady": "steady", "slow_swing": "slow swing (hunt or surge)", "fast_jiggle": "fast jiggle",
    "erratic": "erratic, without a beat",
    "swinging": "swinging; the log is too slow to tell a slow swing from a jiggle",
}  # fmt: skip
NARROWEST = 30


class _UseError(HertzwrightError):
    """Wrong use of the command; the message says what to give instead."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of `trace`."""
    parser.description = "Judge a frequency log (CSV) or a sound recording (WAV): stretches, swings and load steps."
    parser.add_argument("file", metavar="FILE", help="a CSV log of any meter, or a WAV recording of hum or exhaust")
    parser.add_argument(
        "--columns", default="", metavar="TIME,FREQUENCY",
        help="columns by number from 1 or by heading; DATE+TIME,FREQUENCY where the date stands apart",
    )  # fmt: skip
    parser.add_argument("--poles", type=int, choices=(2, 4, 6), help="of the generator (default 4, or the job's)")
    parser.add_argument(
        "--cylinders", type=int, choices=(1, 2, 3, 4, 6, 8),
        help="of the four-stroke engine: listen for the exhaust note",
    )  # fmt: skip
    parser.add_argument("--hertz", type=int, choices=(50, 60), help="rated frequency (default 60, or the job's)")
    parser.add_argument("--tolerance", metavar="NAME", help="tolerance set (default: default, or the job's)")
    parser.add_argument(
        "--loads", default="", metavar="PERCENT,...", help="load of each stretch in percent of rated, such as 0,100,0"
    )
    parser.add_argument("--svg", metavar="OUT", help="write the plot to this SVG file (- for standard output)")
    parser.add_argument("--force", action="store_true", help="write the plot over a file that is there already")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument("--plain", action="store_true", help="one fact a line, no picture, for screen readers")
    parser.add_argument(
        "--plot", choices=("auto", "blocks", "ascii", "none"), default="auto",
        help="how to draw in the terminal (default: blocks; ASCII where the terminal has none; none with --plain)",
    )  # fmt: skip
    parser.add_argument("--width", type=int, metavar="N", help="columns to use (default: those of the terminal)")
    store.add_knowledge(parser)
    job_entry.add_options(parser)


def run(arguments: argparse.Namespace) -> int:
    """Carry the command out; gives the exit status."""
    missing = [name for name in ("numpy", "scipy") if importlib.util.find_spec(name) is None]
    if missing:
        _say(f'trace needs {" and ".join(missing)}; get them with: pip install "hertzwright[trace]"')
        return 2
    try:
        return _run(arguments)
    except HertzwrightError as error:
        _say(str(error))
        return 2


def _say(text: str) -> None:
    print("hertzwright trace: " + printable(text), file=sys.stderr)


def _run(arguments: argparse.Namespace) -> int:
    from ...engine.trace import BAND_PERCENT, analyse, offers, read_recording, read_trace

    if arguments.width is not None and arguments.width < NARROWEST:
        raise _UseError(f"--width {arguments.width}: expected {NARROWEST} or more")
    if arguments.svg == output_file.STANDARD_OUTPUT and arguments.json:
        raise _UseError("only one of --svg - and --json can go to standard output")
    knowledge = store.knowledge(arguments.knowledge)
    job_path, job = job_entry.opened(knowledge, arguments) if arguments.job else (None, None)
    _of_the_job(arguments, job)
    tolerance = knowledge.tolerance(arguments.tolerance)
    band_percent = tolerance.limits.get("steady_band_percent_max", BAND_PERCENT)
    path, rated = Path(arguments.file), float(arguments.hertz)
    out = output_file.claimed(arguments.svg, arguments.force, [path]) if arguments.svg else None
    confidence, told = "", "sure"
    if _is_wave(path):
        heard = read_recording(path, rated, arguments.poles, arguments.cylinders)
        record, confidence = heard.record, f"{heard.confidence}: {heard.share:.0%} of the moments heard"
        told = heard.told
    else:
        record = read_trace(path, arguments.columns, arguments.poles, rated)
    report = analyse(record, rated, band_percent)
    loads = _loads(arguments.loads, report)
    given = {"poles": arguments.poles, "hertz": arguments.hertz}
    features = dict(job.features) if job is not None else dict(knowledge.features(given))
    found = offers(report, job.checks if job is not None else knowledge.checks, features, tolerance.bands, loads, told)
    if out is not None:
        out.put(_svg(path.name, record, report).encode("utf-8"))
    cells = _cells(record, report)
    (row,) = read_mappings([cells], "the recording").rows
    seen = danger.of_row(knowledge.catalogue, features, row, "Recording")
    holds = (*(job.held if job is not None else ()), *seen)
    if arguments.json:
        shown = _as_json(path.name, record, report, found, arguments.tolerance, confidence, given)
        shown["held"] = held.as_json(holds)
        print(json.dumps(shown, indent=2, sort_keys=True))
    elif arguments.svg != output_file.STANDARD_OUTPUT:
        width = arguments.width or max(NARROWEST, wrapping.terminal())
        held.say_holds(Screen(arguments.plain), holds, held.HOW_ALONE)
        for line in _text(path.name, record, report, found, knowledge, arguments, width, confidence):
            print(line)
    if job_path is not None:
        note = f"Trace {printable(path.name)}: {_described(record)}"
        # A danger is kept even where nothing else can be told from the recording.
        kept = [Event("load_reading", "trace", cells=cells)] if seen else []
        job_entry.enter(knowledge, job_path, found, [note] if found or kept else [], arguments.yes, kept)
    return 0


def _cells(record: FrequencyRecord, report: TraceReport) -> dict[str, str]:
    """The highest settled frequency and the highest of all, as a reading of a load test has them."""
    settled = max(stretch.mean for stretch in report.stretches)
    peak = max(float(record.hertz.max()), settled)
    return {"load": "-", "hz": f"{min(settled, 150.0):.2f}", "highest hz": f"{min(peak, 150.0):.2f}"}


def _of_the_job(arguments: argparse.Namespace, job: Job | None) -> None:
    """Fill in what was not given, from the job or as usual. Raises _UseError where the two do not agree."""
    for name, usual in (("poles", 4), ("hertz", 60)):
        of_job = int(float(job.features[name])) if job is not None else usual
        given = getattr(arguments, name)
        if job is not None and given not in (None, of_job):
            raise _UseError(f"--{name} {given} beside --job: the set of the job has {of_job}")
        setattr(arguments, name, given or of_job)
    arguments.tolerance = arguments.tolerance or (job.tolerance if job is not None else "default")


def _is_wave(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            head = file.read(4)
    except OSError as error:
        raise _UseError(f"{quoted(str(path))}: cannot be read: {error.strerror or error}") from None
    return head in (b"RIFF", b"RF64") or path.suffix.lower() == ".wav"


def _loads(text: str, report: TraceReport) -> tuple[float, ...]:
    if not text:
        return ()
    try:
        loads = tuple(float(part.strip().removesuffix("%")) for part in text.split(","))
    except ValueError:
        loads = (-1.0,)
    if not all(0 <= load <= 150 for load in loads):
        raise _UseError(f"--loads {quoted(text)}: expected percent of rated for each stretch, such as 0,100,0")
    if len(loads) != len(report.stretches):
        places = ", ".join(f"{_clock(stretch.begin)} at {stretch.mean:.1f} Hz" for stretch in report.stretches[:12])
        raise _UseError(
            f"--loads {quoted(text)}: {len(loads)} loads for {len(report.stretches)} stretches, which begin at {places}"
        )
    return loads


# Text --------------------------------------------------------------------------------------------------------------


def _text(
    name: str, record: FrequencyRecord, report: TraceReport, found: Sequence[tuple[str, str]], knowledge: Knowledge,
    arguments: argparse.Namespace, width: int, confidence: str,
) -> list[str]:  # fmt: skip
    from ...engine.trace import FALSE_ALARM

    lines = _wrapped(f"{printable(name)}: {_described(record)}", width)
    if confidence:
        lines += _wrapped(f"Confidence {confidence}.", width)
    for remark in record.remarks:
        at = f"line {remark.line}: " if remark.line else ""
        lines += _wrapped(f"{at}{remark.kind}: {printable(remark.text)}", width)
    for kind, count in record.counts:
        shown = sum(remark.kind == kind for remark in record.remarks)
        if count > shown:
            lines += _wrapped(f"{kind}: {count - shown} more", width)
    for text in report.remarks:
        lines += _wrapped(text, width)
    style = _style(arguments)
    if style != "none":
        marks = [Mark(step.time, "") for step in report.steps]
        lines += ["", *text_plot(
            record.time.tolist(), record.hertz.tolist(), width=min(width, 100), ascii_only=style == "ascii",
            marks=marks, label=_clock, unit="Hz",
        )]  # fmt: skip
    lines += ["", "Stretches"]
    for stretch in report.stretches:
        lines += _wrapped(_stretch_text(stretch, report), width)
    if report.steps:
        lines += ["", "Load steps"]
        for step in report.steps:
            lines += _wrapped(_step_text(step, report), width)
        lines += _wrapped(f"Regulation from highest to lowest stretch {report.regulation:.2f} % of rated.", width)
    lines += ["", "Findings for a job"]
    for check, answer in found:
        lines += _wrapped(f"{knowledge.checks[check].title}: {answer} ({check})", width)
    if not arguments.loads:
        lines += _wrapped("The file does not know its loads: say --loads for the findings that hang on them.", width)
    lines += ["", *_wrapped(
        f"Prescribed steady-state band {report.band:.2f} Hz. White noise is called a swing in at most "
        f"{FALSE_ALARM:.1%} of stretches.", width,
    )]  # fmt: skip
    return lines


def _style(arguments: argparse.Namespace) -> str:
    if arguments.plot != "auto":
        return str(arguments.plot)
    if arguments.plain:
        return "none"
    try:
        "\u2588\u2502\u2500".encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return "ascii"
    return "blocks"


def _described(record: FrequencyRecord) -> str:
    lasts = float(record.time[-1])
    meter = f", meter step {record.resolution:.3g} Hz" if record.resolution else ""
    return f"{record.time.size} readings in {_clock(lasts)}, one in {record.interval:.3g} s{meter}; {record.source}"


def _stretch_text(stretch: SteadyStretch, report: TraceReport) -> str:
    swing = stretch.swing
    kind = _KINDS[swing.kind]
    if swing.size is not None and swing.size <= report.band and swing.kind != "erratic":
        kind = f"a small {swing.kind.replace('_', ' ')} that stays within the band"
    text = f"{_clock(stretch.begin)} to {_clock(stretch.end)}: {stretch.mean:.2f} Hz, {kind}"
    text += f", band {swing.band:.2f} Hz (+/- {stretch.variation:.2f} %)"
    if swing.size is not None and swing.period is not None:
        often = "" if swing.share > 0.99 else f", in {swing.share:.0%} of it"
        text += f", swing {swing.size:.2f} Hz peak to peak every {swing.period:.2f} s{often}"
        text += f", false alarm {max(swing.false_alarm, 1e-9):.1g}" if swing.false_alarm > 1e-9 else ""
    elif swing.could_be:
        text += f"; beats of {', '.join(f'{beat:.2f}' for beat in swing.could_be[:4])} Hz give the same readings"
    elif not swing.slowest:
        text += ", too short to tell a beat"
    return text + "."


def _step_text(step: LoadStep, report: TraceReport) -> str:
    way = step.transient
    text = f"{_clock(step.time)} load {step.direction}: {step.before:.2f} to {step.after:.2f} Hz, "
    word = "dip" if step.direction == "on" else "overshoot"
    text += f"{word} {way.depth:.2f} Hz (+/- {way.depth_within:.2f} Hz) "
    text += f"from the settled value, {way.beyond:.1f} % of rated past the band, "
    if step.ending == "swings on":
        return text + "does not settle: it swings on."
    if way.recovery is None:
        return text + "not seen to stay in the band before the next step or the end."
    how = "along a fitted curve" if way.fitted else "between readings"
    swings = "no swing back" if not way.swings else f"{way.swings} swing{'s' if way.swings > 1 else ''} back"
    text += f"recovery {way.recovery:.2f} s (+/- {way.within:.2f} s, {how}), {swings}"
    if way.damping is not None and way.period is not None and way.damping < 0.9:
        text += f", damping {way.damping:.2f}, period {way.period:.2f} s"
    return text + "."


def _wrapped(text: str, width: int) -> list[str]:
    return wrapping.wrap(text, width, following="  ", hyphens=True) or [""]


def _clock(seconds: float) -> str:
    """1:05.5 for 65.5 s; 2:03:04 for two hours and more."""
    tenths = round(seconds * 10)
    hours, rest = divmod(tenths, 36000)
    minutes, rest = divmod(rest, 600)
    tail = f"{rest // 10:02d}" + (f".{rest % 10}" if rest % 10 and not hours else "")
    return f"{hours}:{minutes:02d}:{tail}" if hours else f"{minutes}:{tail}"


# SVG and JSON ------------------------------------------------------------------------------------------------------


def _svg(name: str, record: FrequencyRecord, report: TraceReport) -> str:
    half = report.band / 2
    shades = [Shade(s.begin, s.end, s.mean - half, s.mean + half) for s in report.stretches]
    marks = [Mark(step.time, _step_text(step, report)) for step in report.steps]
    return svg_plot(
        record.time.tolist(), record.hertz.tolist(), title=f"Frequency, {name}", x_label="time, min:s",
        y_label="frequency, Hz", marks=marks, shades=shades, label=_clock,
    )  # fmt: skip


def _rounded(value: float | None, digits: int = 4) -> float | None:
    return None if value is None else round(float(value), digits)


def _as_json(
    name: str, record: FrequencyRecord, report: TraceReport, found: Sequence[tuple[str, str]], tolerance: str,
    confidence: str,
    given: dict[str, int],
) -> dict[str, object]:  # fmt: skip
    from ...engine.trace import FALSE_ALARM

    return {
        "version": 1,
        "file": name,
        "source": record.source,
        "confidence": confidence or None,
        "set": given,
        "tolerance": tolerance,
        "readings": int(record.time.size),
        "interval_s": _rounded(record.interval),
        "meter_step_hz": _rounded(record.resolution),
        "band_hz": _rounded(report.band),
        "false_alarm_rate": FALSE_ALARM,
        "regulation_percent": _rounded(report.regulation),
        "remarks": [{"kind": r.kind, "line": r.line or None, "text": r.text} for r in record.remarks]
        + [{"kind": "record", "line": None, "text": text} for text in report.remarks],
        "remark_counts": dict(record.counts),
        "stretches": [_stretch_json(stretch) for stretch in report.stretches],
        "steps": [_step_json(step) for step in report.steps],
        "facts": [{"check": check, "answer": answer} for check, answer in found],
    }


def _stretch_json(stretch: SteadyStretch) -> dict[str, object]:
    swing = stretch.swing
    return {
        "begin_s": _rounded(stretch.begin), "end_s": _rounded(stretch.end), "readings": stretch.readings,
        "mean_hz": _rounded(stretch.mean), "deviation_hz": _rounded(stretch.deviation), "kind": swing.kind,
        "band_hz": _rounded(swing.band), "variation_percent": _rounded(stretch.variation),
        "swing_hz": _rounded(swing.size), "period_s": _rounded(swing.period),
        "false_alarm": float(f"{swing.false_alarm:.3g}"), "share": _rounded(swing.share),
        "could_be_hz": [_rounded(beat) for beat in swing.could_be],
    }  # fmt: skip


def _step_json(step: LoadStep) -> dict[str, object]:
    way = step.transient
    return {
        "time_s": _rounded(step.time), "load": step.direction, "before_hz": _rounded(step.before),
        "after_hz": _rounded(step.after), "extreme_hz": _rounded(way.extreme), "depth_hz": _rounded(way.depth),
        "depth_within_hz": _rounded(way.depth_within),
        "beyond_band_percent": _rounded(way.beyond), "recovery_s": _rounded(way.recovery),
        "recovery_within_s": _rounded(way.within), "fitted": way.fitted, "swings": way.swings, "ending": step.ending,
        "damping": _rounded(way.damping), "period_s": _rounded(way.period),
    }  # fmt: skip
