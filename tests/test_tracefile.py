"""Logs as meters write them: formats, clocks, and what is wrong in them, by line."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import numpy as np
import pytest

from hertzwright.engine.trace.logfile import read_trace
from hertzwright.engine.trace.samples import FrequencyRecord, TraceError, meter_step

HERTZ = [61.8, 61.7, 61.9, 61.8, 60.2, 59.9, 60.0, 60.1, 60.0, 60.0, 59.9, 60.0]


def read(folder: Path, text: str | bytes, columns: str = "", poles: int = 4) -> FrequencyRecord:
    path = folder / "log.csv"
    if isinstance(text, str):
        path.write_text(text, encoding="utf-8")
    else:
        path.write_bytes(text)
    return read_trace(path, columns, poles)


def rows(times: list[str], separator: str = ",", comma: bool = False, heading: str = "time{s}Hz") -> str:
    values = [f"{hertz:.1f}".replace(".", ",") if comma else f"{hertz:.1f}" for hertz in HERTZ]
    lines = [f"{time}{separator}{value}" for time, value in zip(times, values, strict=True)]
    return "\n".join([heading.replace("{s}", separator), *lines]) + "\n"


SECONDS = [f"{n / 2:.1f}" for n in range(len(HERTZ))]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_every_separator_gives_the_same_record(tmp_path: Path, separator: str) -> None:
    record = read(tmp_path, rows(SECONDS, separator))
    assert record.hertz.tolist() == HERTZ
    assert record.time.tolist() == [n / 2 for n in range(12)]
    assert (record.interval, record.remarks) == (0.5, ())
    assert record.resolution == pytest.approx(0.1)


def test_decimal_comma_in_both_columns(tmp_path: Path) -> None:
    times = [text.replace(".", ",") for text in SECONDS]
    assert read(tmp_path, rows(times, ";", comma=True)).hertz.tolist() == HERTZ


def test_decimal_comma_in_quotes_between_commas(tmp_path: Path) -> None:
    text = "time,Hz\n" + "".join(f'{n},"{str(hertz).replace(".", ",")}"\n' for n, hertz in enumerate(HERTZ))
    assert read(tmp_path, text).hertz.tolist() == HERTZ


def test_comma_as_separator_and_decimal_mark_is_refused(tmp_path: Path) -> None:
    with pytest.raises(TraceError, match=r"line 2: 4 values under 2 headings"):
        read(tmp_path, "time,Hz\n" + "0,5,60,1\n1,0,60,2\n" * 6)


@pytest.mark.parametrize(
    "stamp",
    [
        "2026-05-30 14:05:{:04.1f}", "2026-05-30T14:05:{:04.1f}Z", "30.05.2026 14:05:{:04.1f}",
        "5/30/2026 2:05:{:04.1f} PM", "14:05:{:04.1f}", "2:05:{:04.1f} pm", "05:{:04.1f}", "30-5-26, 14:05:{:04.1f}",
    ],
)  # fmt: skip
def test_clock_and_date_stamps(tmp_path: Path, stamp: str) -> None:
    record = read(tmp_path, rows([stamp.format(n / 2) for n in range(12)], "\t"))
    assert record.time.tolist() == pytest.approx([n / 2 for n in range(12)])


def test_day_and_month_first_are_told_apart_where_the_date_changes(tmp_path: Path) -> None:
    for days in (("5.6.2026", "6.6.2026"), ("6/5/2026", "6/6/2026")):
        stamps = [f"{days[0]} 23:59:{57 + n / 2:.1f}" for n in range(6)]
        stamps += [f"{days[1]} 00:00:{n / 2:04.1f}" for n in range(6)]
        assert read(tmp_path, rows(stamps)).time.tolist() == pytest.approx([n / 2 for n in range(12)])


def test_date_and_clock_in_two_columns(tmp_path: Path) -> None:
    text = "V,Freq (Hz),Date,Time\n" + "".join(
        f"240,{hertz},2026-05-30,14:05:{n:02d}\n" for n, hertz in enumerate(HERTZ)
    )
    record = read(tmp_path, text)
    assert record.hertz.tolist() == HERTZ
    assert record.time.tolist() == list(range(12))


def test_milliseconds_rpm_and_lines_before_the_headings(tmp_path: Path) -> None:
    # f = poles * rpm / 120 (TM 5-6115-584-34, para 7-1): 1854 rpm with 4 poles are 61.8 Hz.
    body = "".join(f"{n * 500};{hertz * 30:.0f}\n" for n, hertz in enumerate(HERTZ))
    record = read(tmp_path, "Meter 7\nserial 0001\n\nTime [ms];Speed (rpm)\n" + body)
    assert record.hertz.tolist() == pytest.approx(HERTZ)
    assert record.interval == pytest.approx(0.5)


@pytest.mark.parametrize("columns", ["3,1", "Lap,Channel B"])
def test_columns_by_number_and_by_heading(tmp_path: Path, columns: str) -> None:
    text = "Channel B,X,Lap\n" + "".join(f"{hertz},9,{n / 2}\n" for n, hertz in enumerate(HERTZ))
    assert read(tmp_path, text, columns).hertz.tolist() == HERTZ


def test_no_headings_need_columns(tmp_path: Path) -> None:
    text = "".join(f"{n / 2},{hertz}\n" for n, hertz in enumerate(HERTZ))
    with pytest.raises(TraceError, match="--columns"):
        read(tmp_path, text)
    assert read(tmp_path, text, "1,2").hertz.tolist() == HERTZ


def test_two_columns_of_frequency_are_asked_about(tmp_path: Path) -> None:
    with pytest.raises(TraceError, match=r'line 1: which column, 2 "Frequency A" or 3 "Frequency B"'):
        read(tmp_path, "Time,Frequency A,Frequency B\n" + "0,60,60\n" * 20)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_encodings(tmp_path: Path, encoding: str) -> None:
    text = rows(SECONDS, ";", heading="Zeit {s}Frequenz °".replace(" {s}", ";"))
    assert read(tmp_path, text.encode(encoding)).hertz.tolist() == HERTZ


def test_troubles_are_reported_by_line_and_survived(tmp_path: Path) -> None:
    lines = ["time,Hz", *(f"{n / 2},{60 + n % 3 / 10}" for n in range(60))]
    lines[5] = "2.0,OL"
    lines[8] = "3.5"
    lines[11] = "soon,60.1"
    lines[14] = "6.5,nan"
    lines[17] = "8.0,0.0"
    lines[21] = lines[20]
    lines[30] = "3.0,60.0"
    lines[40] = "19.5,31.0"
    del lines[50:58]
    record = read(tmp_path, "\n".join(lines))
    found = {(remark.kind, remark.line) for remark in record.remarks}
    assert found == {
        ("no reading", 6), ("short row", 9), ("time not understood", 12), ("no reading", 15), ("dropout", 18),
        ("repeated time", 22), ("backward time", 31), ("stray reading", 41), ("gap", 51),
    }  # fmt: skip
    assert np.all(np.diff(record.time) > 0)
    assert np.all(np.isfinite(record.hertz))
    assert record.time.size == 60 - 8 - 8


def test_a_first_reading_that_failed_is_not_taken_for_a_heading(tmp_path: Path) -> None:
    record = read(tmp_path, "time,Hz\ns,Hz\n0,OL\n" + "".join(f"{n},60.{n % 10}\n" for n in range(1, 20)))
    assert [(remark.kind, remark.line) for remark in record.remarks] == [("no reading", 3)]


def test_midnight(tmp_path: Path) -> None:
    stamps = [f"23:59:{58 + n / 2:.1f}" if n < 4 else f"00:00:{n / 2 - 2:04.1f}" for n in range(12)]
    record = read(tmp_path, rows(stamps))
    assert record.time.tolist() == [n / 2 for n in range(12)]
    assert [(remark.kind, remark.line) for remark in record.remarks] == [("midnight", 6)]


def test_a_clock_that_shows_whole_seconds_only_is_spread(tmp_path: Path) -> None:
    stamps = [f"14:05:{n // 2:02d}" for n in range(12)]
    record = read(tmp_path, rows(stamps))
    assert record.time.tolist() == pytest.approx([n / 2 for n in range(12)])
    assert record.remarks[0].kind == "coarse clock"


def test_a_clock_put_back_goes_on(tmp_path: Path) -> None:
    times = [float(n) for n in range(20)] + [float(n) for n in range(5, 25)]
    record = read(tmp_path, "time,Hz\n" + "".join(f"{time},60.{n % 7}\n" for n, time in enumerate(times)))
    assert record.time.tolist() == list(range(40))
    assert record.remarks[0].line == 22


def test_newest_first(tmp_path: Path) -> None:
    record = read(tmp_path, rows(SECONDS[::-1]))
    assert record.hertz.tolist() == HERTZ[::-1]
    assert np.all(np.diff(record.time) > 0)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (b"", "empty"),
        (b"\x00\x01\x02" * 100, "not a text file"),
        (b"time,Hz\n", "no reading in the first"),
        (b"time,Hz\n" + b"a,b\n" * 30, "line 2: no reading"),
        (b"time,Hz\n" + b"noon,60\n" * 30, "line 2"),
        (b"time,Hz\n0,60\n1,60\n", "2 usable readings"),
        (b"time,Hz\n" + b"".join(b"%d,240\n" % n for n in range(30)), "about 240 Hz, expected near 60 Hz"),
        (b"x" * 70000, "line 1 is longer"),
    ],
)
def test_unusable_files_say_where_and_why(tmp_path: Path, text: bytes, message: str) -> None:
    with pytest.raises(TraceError, match=message):
        read(tmp_path, text)


@pytest.mark.parametrize("columns", ["1", "1,9", "0,1", "a,b", "1,", ",,,"])
def test_wrong_columns(tmp_path: Path, columns: str) -> None:
    with pytest.raises(TraceError, match="--columns"):
        read(tmp_path, rows(SECONDS), columns)


def test_missing_file_and_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(TraceError, match="cannot be read"):
            read_trace(path)


def test_noise_of_bytes_never_ends_in_another_error(tmp_path: Path) -> None:
    rng = np.random.default_rng(0)
    letters = np.frombuffer(b'0123456789.,;:-\t\n\n Hztime"/#eN\xe9', dtype=np.uint8)
    for _ in range(300):
        body = rng.choice(letters, int(rng.integers(1, 400))).tobytes()
        heads = [b"", b"time,Hz\n", b"time;Hz\n0;60\n", b"date,time,rpm\n2026-01-02,10:00:00,1800\n"]
        head = heads[int(rng.integers(4))]
        try:
            record = read(tmp_path, head + body, ["", "1,2"][int(rng.integers(2))])
        except TraceError:
            continue
        assert np.all(np.diff(record.time) > 0)


def test_meter_step() -> None:
    assert meter_step(np.array([60.0, 60.1, 60.3])) == pytest.approx(0.1)
    assert meter_step(np.array([60.0, 60.0])) == 0.0
    assert meter_step(np.random.default_rng(0).normal(60, 0.1, 1000)) == 0.0


def test_memory_stays_small(tmp_path: Path) -> None:
    # A tenth of a day at 10 Hz; tests/benchmarks/trace_speed.py takes the whole day.
    path = tmp_path / "long.csv"
    path.write_text("time,Hz\n" + "".join(f"{n / 10:.1f},{60 + n % 9 / 10:.1f}\n" for n in range(86400)))
    tracemalloc.start()
    record = read_trace(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert record.time.size == 86400
    assert peak < 50e6
