"""A frequency log as a CSV file, turned into times and hertz.

Purpose: read what logging meters write: time in seconds, clock time or date-time; comma, semicolon or tab; decimal
comma; columns in any order; comment lines and other lines before the headings.
Law: a row that cannot be used is reported with its line number and left out, never repaired silently; a file that
cannot be used raises `TraceError` with the line. Memory stays near 16 bytes a row.
Not checked here: whether the readings are those of a generating set. numpy is imported only when a file is read.
Source of hertz from rpm: f = poles * rpm / 120 (TM 5-6115-584-34, para 7-1).
"""

from __future__ import annotations

import csv
import re
from array import array
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

from ..problems import quoted
from .samples import FrequencyRecord, Remarks, TraceError, put_in_order

SAMPLE_LINES = 200  # looked at before the whole file is read
CHUNK = 1 << 20  # characters read at a time

_TIME_NAMES = frozenset(
    [
        "time", "t", "timestamp", "seconds", "sec", "secs", "s", "elapsed", "elapsedtime", "datetime",
        "dateandtime", "clock", "clocktime", "zeit", "uhrzeit", "zeitstempel", "temps", "heure", "hora",
        "tempo", "tiempo",
    ]
)  # fmt: skip
_DATE_NAMES = frozenset(
    [
        "date", "day", "datum", "fecha", "data",
    ]
)  # fmt: skip
_HERTZ_NAMES = frozenset(
    [
        "frequency", "freq", "hz", "hertz", "f", "frequenz", "frequence", "fréquence", "frecuencia", "frequenza",
    ]
)  # fmt: skip
_RPM_NAMES = frozenset(
    [
        "rpm", "speed", "enginespeed", "drehzahl", "vitesse", "r/min",
    ]
)  # fmt: skip
_TIME_UNITS = {"s": 1.0, "sec": 1.0, "seconds": 1.0, "ms": 0.001, "min": 60.0, "minutes": 60.0, "h": 3600.0}
_CLOCK = re.compile(r"\s*(?:(\d{1,3}):)?(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)\s*([AaPp])?\.?[Mm]?\.?\s*")
_SHORT_CLOCK = re.compile(r"\s*(\d{1,2}):(\d{2})\s*([AaPp])\.?[Mm]\.?\s*")
_DATE = re.compile(r"\s*(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})[T ,]+(\S.*)")


@dataclass(frozen=True, slots=True)
class _Layout:
    """How the rows of a file are written."""

    encoding: str
    delimiter: str
    comma: bool
    first: int  # index of the first line of data
    times: tuple[int, ...]  # column of the time, or of the date and the time
    value: int
    scale: float  # hertz of one unit of the value
    second: float  # seconds of one unit of the time
    sample: str  # the first time that goes with a reading
    described: str


def read_trace(path: Path, columns: str = "", poles: int = 4, hertz: float = 60.0) -> FrequencyRecord:
    """The record in a CSV file.

    Parameters: columns, "TIME,FREQUENCY" by heading or by number from 1 ("1,3"; "DATE+TIME,FREQUENCY" where the date
    stands apart); empty matches the headings. poles: for a speed in rpm. hertz: rated frequency, Hz.
    Raises TraceError.
    """
    try:
        layout = _layout(path, columns, poles)
        rows, remarks = _read_rows(path, layout)
    except OSError as error:
        raise TraceError(f"{quoted(str(path))}: cannot be read: {error.strerror or error}") from None
    except UnicodeError:
        raise TraceError(f"{quoted(path.name)}: not a text file in UTF-8, UTF-16 or a Western code page") from None
    return put_in_order(path.name, layout.described, rows, remarks, hertz, layout.scale)


# Layout ------------------------------------------------------------------------------------------------------------


def _layout(path: Path, columns: str, poles: int) -> _Layout:
    with path.open("rb") as raw:
        head = raw.read(1 << 16)
    name = quoted(path.name)
    if not head.strip():
        raise TraceError(f"{name}: the file is empty; expected lines with a time and a frequency")
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        encoding = "utf-16"
    elif b"\0" in head:
        raise TraceError(f"{name}: line 1: not a text file; expected CSV with a time and a frequency")
    else:
        try:
            head[: head.rfind(b"\n") + 1].decode("utf-8")
            encoding = "utf-8-sig"
        except UnicodeDecodeError:
            encoding = "cp1252"
    if len(head) == 1 << 16 and b"\n" not in head and b"\r" not in head:
        raise TraceError(f"{name}: line 1 is longer than {1 << 16} characters; expected one reading a line")
    with path.open(encoding=encoding, errors="replace") as text:
        sample = [line for line, _ in zip(text, range(SAMPLE_LINES), strict=False)]
    delimiter = _delimiter(sample)
    rows = [_fields(line, delimiter) for line in sample]
    if columns:
        heading, times, value = _chosen(name, columns, rows)
    else:
        heading, times, value = _matched(name, rows)
    titles = rows[heading] if heading >= 0 else []
    usable = _first_row(name, rows, heading + 1, times, value)
    # What stands between the headings and the first reading is units, or a reading that failed: that is reported.
    first = next(n for n in range(heading + 1, usable + 1) if any(letter.isdigit() for letter in "".join(rows[n])))
    row = rows[usable]
    if delimiter == "," and titles and len(row) >= 2 * len(titles) > 2:
        raise TraceError(
            f"{name}: line {usable + 1}: {len(row)} values under {len(titles)} headings; the comma seems to be both "
            "separator and decimal mark: save the file with semicolons"
        )
    comma = delimiter != "," and any("," in r[value] for r in rows[first:] if len(r) > value)
    comma = comma or any(re.fullmatch(r"\s*[-+]?\d+,\d+\s*", r[value]) for r in rows[first:] if len(r) > value)
    title = titles[value] if value < len(titles) else ""
    scale = poles / 120.0 if _names(title) & _RPM_NAMES and not _names(title) & _HERTZ_NAMES else 1.0
    unit = _names(titles[times[-1]]) if times[-1] < len(titles) else set()
    second = next((_TIME_UNITS[word] for word in ("ms", "min", "minutes", "h") if word in unit), 1.0)
    described = f"time from column {'+'.join(str(n + 1) for n in times)}, " + (
        f"{'speed' if scale != 1.0 else 'frequency'} from column {value + 1}"
    )
    sample_time = " ".join(row[n] for n in times)
    return _Layout(encoding, delimiter, comma, first, times, value, scale, second, sample_time, described)


def _delimiter(sample: Sequence[str]) -> str:
    """The separator that most lines have; a semicolon or tab beats the comma, which may be a decimal mark."""
    for mark in (";", "\t"):
        if sum(mark in line for line in sample) * 2 >= len(sample):
            return mark
    return ","


def _fields(line: str, delimiter: str) -> list[str]:
    if '"' in line:
        return next(csv.reader([line.rstrip("\r\n")], delimiter=delimiter, skipinitialspace=True), [])
    return [piece.strip() for piece in line.split(delimiter)]


def _names(title: str) -> set[str]:
    """The words of a heading in small letters, and the heading as one word."""
    words = re.findall(r"[^\W\d_]+(?:/min)?", title.lower())
    return {*words, "".join(words)}


def _matched(name: str, rows: Sequence[Sequence[str]]) -> tuple[int, tuple[int, ...], int]:
    for heading, row in enumerate(rows):
        named = [_names(title) for title in row]
        values = _best(row, named, _HERTZ_NAMES) or _best(row, named, _RPM_NAMES)
        times = [n for n in _best(row, named, _TIME_NAMES) if n not in values]
        dates = [n for n in _best(row, named, _DATE_NAMES) if n not in times and n not in values]
        if not values or not (times or dates):
            continue
        if len(values) > 1 or len(times) > 1:
            several = values if len(values) > 1 else times
            shown = " or ".join(f"{n + 1} {quoted(row[n])}" for n in several)
            raise TraceError(f"{name}: line {heading + 1}: which column, {shown}? say --columns TIME,FREQUENCY")
        if len(dates) == 1 and times:
            return heading, (dates[0], times[0]), values[0]
        return heading, tuple(times or dates[:1]), values[0]
    seen = max(rows[:20], key=len, default=[])
    raise TraceError(
        f"{name}: no line with headings for a time and a frequency; "
        f"say --columns with two of the {len(seen)} columns, for example --columns 1,2"
    )


def _best(row: Sequence[str], named: Sequence[set[str]], known: frozenset[str]) -> list[int]:
    """Columns whose heading has a known word; a heading that begins with one beats one that ends with it."""
    found = [n for n, words in enumerate(named) if words & known]
    leading = [n for n in found if (first := re.findall(r"[^\W\d_]+", row[n].lower())) and first[0] in known]
    return leading or found


def _chosen(name: str, columns: str, rows: Sequence[Sequence[str]]) -> tuple[int, tuple[int, ...], int]:
    parts = [part.strip() for part in columns.split(",")]
    if len(parts) != 2 or not all(parts):
        raise TraceError(f"--columns {quoted(columns)}: expected TIME,FREQUENCY, such as 1,3 or DATE+TIME,FREQUENCY")
    wanted = [*parts[0].split("+"), parts[1]]
    if all(part.strip().isdigit() for part in wanted):
        numbers = [int(part) - 1 for part in wanted]
        widest = max((len(row) for row in rows), default=0)
        for number in numbers:
            if not 0 <= number < widest:
                raise TraceError(f"--columns {quoted(columns)}: {name} has columns 1 to {widest}, not {number + 1}")
        # A row that is no data but has words in both columns is taken for the headings, for their units.
        first = next((n for n, row in enumerate(rows) if _usable(row, numbers)), len(rows))
        heading = next((n for n in range(first - 1, -1, -1) if len(rows[n]) > max(numbers)), -1)
        return heading, tuple(numbers[:-1]), numbers[-1]
    for heading, row in enumerate(rows):
        titles = [title.strip().lower() for title in row]
        if all(part.strip().lower() in titles for part in wanted):
            found = [titles.index(part.strip().lower()) for part in wanted]
            return heading, tuple(found[:-1]), found[-1]
    raise TraceError(f"--columns {quoted(columns)}: no line of {name} has these headings")


def _usable(row: Sequence[str], numbers: Sequence[int]) -> bool:
    return (
        len(row) > max(numbers)
        and _number(row[numbers[-1]], True) is not None
        and any(letter.isdigit() for letter in row[numbers[0]])
    )


def _first_row(name: str, rows: Sequence[Sequence[str]], start: int, times: Sequence[int], value: int) -> int:
    for index in range(start, len(rows)):
        if _usable(rows[index], [*times, value]):
            return index
    raise TraceError(
        f"{name}: line {start + 1}: no reading in the first {len(rows)} lines; "
        f"expected a time in column {times[-1] + 1} and a number in column {value + 1}"
    )


def _number(text: str, comma: bool) -> float | None:
    try:
        return float(text.replace(",", ".") if comma else text)
    except ValueError:
        return None


# Rows --------------------------------------------------------------------------------------------------------------


def _read_rows(path: Path, layout: _Layout) -> tuple[tuple[array[float], array[float], array[int]], Remarks]:
    times, values, lines, remarks = array("d"), array("d"), array("q"), Remarks()
    with path.open(encoding=layout.encoding, errors="replace") as text:
        for _ in range(layout.first):
            text.readline()
        stamp: Callable[[str], float] | None = None
        number = layout.first + 1
        for chunk in _chunks(text):
            if stamp is None:
                stamp = _stamp_reader(path, chunk, layout)
            try:
                found = _fast(chunk, layout, stamp)
            except (ValueError, IndexError):
                _slow(chunk, number, layout, stamp, times, values, lines, remarks)
            else:
                times.extend(found[0])
                values.extend(found[1])
                lines.extend(range(number, number + len(chunk)))
            number += len(chunk)
    return (times, values, lines), remarks


def _chunks(text: TextIO) -> Iterator[list[str]]:
    while chunk := text.readlines(CHUNK):
        yield chunk


def _fast(chunk: list[str], layout: _Layout, stamp: Callable[[str], float]) -> tuple[list[float], list[float]]:
    """All rows of a chunk at once. ValueError or IndexError when any of them is out of order."""
    if any('"' in line for line in chunk):
        rows = list(csv.reader(chunk, delimiter=layout.delimiter, skipinitialspace=True))
        if len(rows) != len(chunk):
            raise ValueError("a quoted field runs over the line")
    else:
        rows = [line.split(layout.delimiter) for line in chunk]
    column = layout.value
    texts = [row[column] for row in rows]
    values = [float(text.replace(",", ".")) for text in texts] if layout.comma else list(map(float, texts))
    if len(layout.times) == 1:
        column = layout.times[0]
        return [stamp(row[column]) for row in rows], values
    date, clock = layout.times
    return [stamp(f"{row[date]} {row[clock]}") for row in rows], values


def _slow(
    chunk: list[str], number: int, layout: _Layout, stamp: Callable[[str], float],
    times: array[float], values: array[float], lines: array[int], remarks: Remarks,
) -> None:  # fmt: skip
    """Row by row, each trouble with its line."""
    for line, text in enumerate(chunk, number):
        if not text.strip() or text.startswith("#"):
            continue
        row = _fields(text, layout.delimiter)
        if len(row) <= max(*layout.times, layout.value):
            remarks.add("short row", line, f"{quoted(text.strip())}: {len(row)} columns only")
            continue
        written = " ".join(row[n] for n in layout.times)
        try:
            time = stamp(written)
        except ValueError:
            remarks.add("time not understood", line, f"{quoted(written)} is no time")
            continue
        value = _number(row[layout.value], layout.comma)
        if value is None:
            shown = row[layout.value].strip()
            remarks.add("no reading", line, f"{quoted(shown)} is no number" if shown else "the reading is missing")
            value = float("nan")
        times.append(time)
        values.append(value)
        lines.append(line)


def _stamp_reader(path: Path, chunk: Sequence[str], layout: _Layout) -> Callable[[str], float]:
    """The function that turns the time text of this file into seconds; it raises ValueError on other text."""
    sample = layout.sample.strip()
    comma, second = layout.comma or layout.delimiter != ",", layout.second

    def plain(text: str) -> float:
        return float(text.replace(",", ".")) * second if comma else float(text) * second

    readers: list[Callable[[str], float]] = [plain, _clock, _iso]
    row = _fields(chunk[-1], layout.delimiter)
    last = " ".join(row[n] for n in layout.times) if len(row) > max(layout.times) else sample
    # Day or month first: whichever makes the file the shorter record.
    orders = sorted(((1, 0, 2), (0, 1, 2)), key=lambda order: _span(sample, last, order))
    for order in ((2, 1, 0), *orders):
        readers.append(lambda text, order=order: _date(text, order))  # type: ignore[misc]
    for reader in readers:
        try:
            reader(sample)
        except ValueError:
            continue
        return reader
    raise TraceError(
        f"{quoted(path.name)}: line {layout.first + 1}: {quoted(sample)} is no time; "
        "expected seconds (12.5), a clock time (14:05:30) or a date and time (2026-05-30 14:05:30)"
    )


def _span(first: str, last: str, order: tuple[int, int, int]) -> float:
    try:
        return abs(_date(last, order) - _date(first, order))
    except ValueError:
        return float("inf")


def _clock(text: str) -> float:
    """Seconds of "14:05:30.5", "2:05:30 PM", "2:05 PM" or "05:30" (minutes and seconds)."""
    if text[2:3] == ":" == text[5:6] and text[:2].isdigit() and text[3:5] < "60":
        with suppress(ValueError):  # the usual form, ten times as fast as the pattern
            return int(text[:2]) * 3600.0 + int(text[3:5]) * 60.0 + float(text[6:])
    match = _CLOCK.fullmatch(text)
    if match is None or (match[4] and not match[1]):
        if (short := _SHORT_CLOCK.fullmatch(text)) is None:
            raise ValueError(text)
        hours, minutes, seconds, half = short[1], short[2], "0", short[3]
    else:
        hours, minutes, seconds, half = match[1] or "0", match[2], match[3], match[4]
    hour = int(hours)
    if half:
        hour = hour % 12 + (12 if half in "Pp" else 0)
    if int(minutes) > 59 or float(seconds.replace(",", ".")) >= 61:
        raise ValueError(text)
    return hour * 3600.0 + int(minutes) * 60.0 + float(seconds.replace(",", "."))


_EPOCH = datetime(1970, 1, 1)


def _iso(text: str) -> float:
    moment = datetime.fromisoformat(text.strip())
    if moment.tzinfo is not None:
        moment = moment.astimezone(UTC).replace(tzinfo=None)
    return (moment - _EPOCH).total_seconds()


def _date(text: str, order: tuple[int, int, int]) -> float:
    """Seconds of "30.5.2026 14:05:30"; `order` says which part is day, month and year."""
    match = _DATE.fullmatch(text)
    if match is None:
        raise ValueError(text)
    parts = (match[1], match[3], match[4])
    day, month, year = (int(parts[n]) for n in order)
    clock = match[5] if match[5].count(":") != 1 or match[5][-1] in "Mm" else f"{match[5]}:00"
    return (datetime(year + 2000 if year < 100 else year, month, day) - _EPOCH).total_seconds() + _clock(clock)
