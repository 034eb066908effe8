"""Readings of a load test as written: a table with a header, a list of mappings, or one line at the prompt.

Purpose: "1/4; 61,2; 239; 9,4/9,6; steady" and "full 60.1 Hz 238 V 31/30 A 7.4 kW steady" both become a `ReadingRow`.
Law: a number keeps the size of its last digit, since no meter is better than what was written down; what is not
understood is refused with its line, its column and what was expected; columns that are not used are named, not dropped.
Not checked here: whether readings agree with each other (see `loadtest`), and the reading of the file itself.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from ..problems import AnswerError, close_to, quoted

MOST_ROWS = 2000
RUNS = ("as_found", "as_left")
SWINGS = ("steady", "swinging", "slow_swing", "fast_jiggle", "erratic")


@dataclass(frozen=True, slots=True)
class Figure:
    """A number as written. `digit` is what one step of its last digit is worth, 0 where that is not known."""

    value: float
    digit: float = 0.0


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """Readings at one load, all optional.

    load: fraction of full load as set. set_kilowatts: load as set, in kW. kilowatts: from a meter. hertz, rpm: settled.
    volts: line to line. amps: one for each hot leg, or one for all. behaviour: "" or one of SWINGS. swing, volts_swing:
    peak to peak at this load. lowest, highest: extremes while going to this load. recovery: seconds on that way, until
    back in the band. place: where it was written. run: one of RUNS.
    """

    place: str
    run: str = "as_found"
    load: Figure | None = None
    set_kilowatts: Figure | None = None
    kilowatts: Figure | None = None
    hertz: Figure | None = None
    rpm: Figure | None = None
    volts: Figure | None = None
    amps: tuple[Figure, ...] = ()
    power_factor: Figure | None = None
    behaviour: str = ""
    swing: Figure | None = None
    lowest: Figure | None = None
    highest: Figure | None = None
    recovery: Figure | None = None
    volts_swing: Figure | None = None
    lowest_volts: Figure | None = None
    highest_volts: Figure | None = None
    volts_recovery: Figure | None = None
    note: str = ""

    @property
    def empty(self) -> bool:
        """Nothing was read but, at most, the load that was set."""
        read = (self.kilowatts, self.hertz, self.rpm, self.volts, self.swing, self.lowest, self.highest)
        return not self.amps and not self.behaviour and all(figure is None for figure in read)


@dataclass(frozen=True, slots=True)
class ReadingTable:
    """Rows in the order written, and what the reader should be told about the file."""

    rows: tuple[ReadingRow, ...]
    remarks: tuple[str, ...] = field(default=())


# Field of a row -> (unit, lowest, highest, headers that mean it). Limits only catch nonsense.
_FIELDS: dict[str, tuple[str, float, float, tuple[str, ...]]] = {
    "load": ("", 0.0, 2.0, ("load", "step", "load fraction", "fraction", "load step")),
    "percent": ("%", 0.0, 200.0, ("load %", "load percent", "percent load", "% load", "percent", "%", "load pct")),
    "set_kilowatts": ("kW", 0.0, 200.0, ("load kw", "set kw", "kw set", "bank kw")),
    "kilowatts": ("kW", 0.0, 200.0, ("kw", "power", "kilowatts", "power kw", "measured kw", "kw measured")),
    "hertz": ("Hz", 20.0, 150.0, ("hz", "frequency", "freq", "hertz", "frequency hz", "freq hz")),
    "rpm": ("rpm", 500.0, 5400.0, ("rpm", "speed", "speed rpm", "r min", "engine rpm")),
    "volts": ("V", 0.0, 1000.0, ("v", "volts", "voltage", "volts v", "voltage v", "line volts")),
    "amps": ("A", 0.0, 1000.0, ("a", "amps", "current", "amps a", "current a", "amps per leg", "leg amps")),
    "power_factor": ("", 0.05, 1.0, ("pf", "power factor")),
    "behaviour": ("", 0, 0, ("steady", "steady swinging", "steady or swinging", "behaviour", "behavior", "swings")),
    "swing": ("Hz", 0.0, 40.0, ("swing", "swing hz", "band", "band hz", "peak to peak", "peak to peak hz")),
    "lowest": ("Hz", 0.0, 150.0, ("lowest hz", "lowest", "min hz", "hz min", "dip to hz")),
    "highest": ("Hz", 20.0, 150.0, ("highest hz", "highest", "max hz", "hz max", "rise to hz")),
    "recovery": ("s", 0.0, 600.0, ("recovery", "recovery s", "recovery time", "recovery seconds")),
    "volts_swing": ("V", 0.0, 400.0, ("volts swing", "voltage swing", "volts band", "voltage band")),
    "lowest_volts": ("V", 0.0, 1000.0, ("lowest volts", "lowest v", "min volts", "min v", "v min")),
    "highest_volts": ("V", 0.0, 1000.0, ("highest volts", "highest v", "max volts", "max v", "v max")),
    "volts_recovery": ("s", 0.0, 600.0, ("volts recovery", "volts recovery s", "voltage recovery")),
    "run": ("", 0, 0, ("run", "as", "state", "found or left")),
    "note": ("", 0, 0, ("note", "notes", "remark", "remarks")),
}  # fmt: skip
_HEADERS = {header: name for name, (_, _, _, headers) in _FIELDS.items() for header in headers}
_LEG_HEADER = re.compile(r"(?:(?:amps|a|current|i)\s*(?:leg|l)?|leg|l)\s*([123])(?:\s*(?:a|amps))?")
# A unit in a cell may move it: rpm under Hz, a percentage or kW under load. Elsewhere only spellings of one unit.
_UNIT_WORDS = {
    "": {"%": "percent", "percent": "percent", "kw": "set_kilowatts"},
    "Hz": {"hz": "", "hertz": "", "rpm": "rpm", "r/min": "rpm"},
    "rpm": {"rpm": "", "r/min": "", "hz": "hertz"},
}
_SAME = {
    "Hz": {"hertz": ""}, "V": {"volts": "", "volt": ""}, "A": {"amps": "", "amp": ""}, "kW": {"w": "watts"},
    "s": {"sec": "", "seconds": ""}, "%": {"percent": ""},
}  # fmt: skip
_NAMED_LOADS = {
    "no load": 0.0, "none": 0.0, "no": 0.0, "quarter": 0.25, "quarter load": 0.25, "half": 0.5, "half load": 0.5,
    "three quarter": 0.75, "three quarters": 0.75, "three quarter load": 0.75, "full": 1.0, "full load": 1.0,
}  # fmt: skip
_BEHAVIOURS = {
    "steady": "steady", "swinging": "swinging", "swings": "swinging", "slow swing": "slow_swing",
    "hunting": "slow_swing", "hunts": "slow_swing", "surging": "slow_swing", "surges": "slow_swing",
    "fast jiggle": "fast_jiggle", "jiggle": "fast_jiggle", "jiggles": "fast_jiggle", "erratic": "erratic",
}  # fmt: skip
_RUN_WORDS = {"as found": "as_found", "found": "as_found", "before": "as_found",
              "as left": "as_left", "left": "as_left", "after": "as_left"}  # fmt: skip
_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)")


def read_figure(text: str) -> Figure:
    """A decimal number with point or comma, or a plain fraction. Raises ValueError."""
    bare = text.strip()
    if match := re.fullmatch(r"(\d+)\s*/\s*(\d+)", bare):
        if not int(match[2]):
            raise ValueError(text)
        return Figure(int(match[1]) / int(match[2]))
    if not _NUMBER.fullmatch(bare):
        raise ValueError(text)
    written = bare.replace(",", ".")
    decimals = len(written.partition(".")[2])
    return Figure(float(written), 10.0**-decimals)


def read_table(text: str, name: str, run: str = "as_found") -> ReadingTable:
    """Rows of a table with a header line; comma, semicolon or tab between the columns, whichever the header has.

    name: of the file, for messages. run: for rows that do not say.
    Raises AnswerError with file, line and column heading.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    start = next((number for number, line in enumerate(lines) if line.strip() and not line.startswith("#")), None)
    if start is None:
        raise AnswerError(f"{name}: holds no readings; expected a header line such as load;Hz;volts;amps 1;amps 2")
    mark = max("\t;,", key=lambda letter: (letter in lines[start], "\t;,".index(letter) * -1))
    if "\0" in text:
        raise AnswerError(f"{name}: is not a text file")
    reader = csv.reader(lines[start:], delimiter=mark, strict=True)
    rows: list[ReadingRow] = []
    try:
        header = next(reader)
        columns, remarks = _columns(header, f"{name}:{start + 1}")
        for cells in reader:
            place = f"{name}:{start + reader.line_num}"
            if not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith("#"):
                continue
            if any(cell.strip() for cell in cells[len(header) :]):
                help_ = "; decimal commas need semicolons or tabs between the columns" if mark == "," else ""
                raise AnswerError(f"{place}: {len(cells)} values, expected {len(header)}, as the header has{help_}")
            given = [(header[at], columns[at], cells[at]) for at in range(min(len(cells), len(header))) if columns[at]]
            rows.append(_row(given, place, run))
            if len(rows) > MOST_ROWS:
                raise AnswerError(f"{place}: more than {MOST_ROWS} rows; a long record is a trace, not a load test")
    except csv.Error as error:
        raise AnswerError(f"{name}:{start + reader.line_num}: not a table: {error}") from None
    return ReadingTable(_some(rows, name), tuple(remarks))


def read_mappings(items: object, name: str, run: str = "as_found") -> ReadingTable:
    """Rows of a list of mappings (as YAML or JSON gives them, every value a string or a list of strings).

    Keys are the headers of `read_table`, with blanks or underscores. Raises AnswerError.
    """
    if not isinstance(items, list):
        raise AnswerError(f"{name}: expected a list of readings, each with keys such as load, hz, volts, amps")
    rows, remarks = [], dict[str, None]()
    for number, item in enumerate(items, 1):
        place = f"{name}: reading {number}"
        if not isinstance(item, Mapping):
            raise AnswerError(f"{place}: expected keys such as load, hz, volts, amps")
        header = [str(key) for key in item]
        columns, told = _columns(header, place)
        remarks.update(dict.fromkeys(told))
        cells = item.values()
        values = ["/".join(map(str, cell)) if isinstance(cell, list) else str(cell) for cell in cells]
        given = [(head, column, value) for head, column, value in zip(header, columns, values, strict=True) if column]
        rows.append(_row(given, place, run))
    return ReadingTable(_some(rows[: MOST_ROWS + 1], name), tuple(remarks))


def read_line(text: str, place: str = "this line", load: float | None = None, run: str = "as_found") -> ReadingRow:
    """Readings typed on one line: "full 60.1 Hz 238 V 31/30 A 7.4 kW steady"; a lone number is Hz.

    load: fraction where the line does not say one. Words: "swing 0.6 Hz", "lowest 55 Hz", "highest 64 Hz",
    "recovery 3 s". Raises AnswerError.
    """
    written = " ".join(text.lower().replace("=", " ").replace(":", " ").split())
    given: list[tuple[str, str, str]] = []
    rest = written
    for name in sorted(_NAMED_LOADS, key=len, reverse=True):
        if re.match(rf"{name}(?![\w/])", rest.replace("-", " ")):
            given.append(("load", "load", name))
            rest = rest[len(name) :].strip()
            break
    else:
        if match := re.match(r"(\d+/\d+)(?![\d.,]|\s*(?:a\b|amps?\b|/))(?:\s+load)?|([\d.,]+\s*(?:%|percent))", rest):
            given.append(("load", "load", match[1] or match[2]))
            rest = rest[match.end() :].strip()
    token = re.compile(
        r"\s*(?:(?P<word>steady|swinging|swings|slow swing|fast jiggle|jiggles?|erratic|hunting|hunts|surging|surges)\b"
        r"|(?:(?P<of>swing|lowest|highest|recovery|pf|volts)\s+)?"
        r"(?P<number>[+-]?[\d.,]+(?:\s*/\s*[\d.,]+)*)\s*(?P<unit>r/min|(?:hz|hertz|rpm|volts?|v|amps?|a|kw|w|seconds|sec|s)\b)?)[,;\s]*"
    )
    at = 0
    while at < len(rest):
        match = token.match(rest, at)
        if match is None or match.end() == at:
            fixed = re.sub(r"(?<=[\d.,])[oO]", "0", re.sub(r"(?<=[\d.,])[lI]", "1", text))
            example = 'expected for example "60.1 Hz 238 V 31/30 A steady"'
            hint = f"did you mean {quoted(fixed)}?" if fixed != text else example
            raise AnswerError(f"{quoted(text)}: {quoted(rest[at:])} is not understood; {hint}")
        at = match.end()
        if match["word"]:
            given.append(("steady", "behaviour", match["word"]))
            continue
        number, unit, of = match["number"].rstrip(",;"), match["unit"] or "", match["of"] or ""
        given.append((of or unit or "Hz", _meant(of, unit, text), f"{number} {unit}".strip()))
    row = _row(given, place, run)
    if row.load is None and row.set_kilowatts is None and load is not None:
        row = replace(row, load=Figure(load))
    return row


def _meant(of: str, unit: str, text: str) -> str:
    if of in ("lowest", "highest") and unit in ("v", "volts"):
        return f"{of}_volts"
    if of and of != "volts":
        return {"pf": "power_factor"}.get(of, of)
    units = {
        "": "hertz", "hz": "hertz", "hertz": "hertz", "rpm": "rpm", "v": "volts", "volts": "volts", "volt": "volts",
        "a": "amps", "amps": "amps", "amp": "amps", "kw": "kilowatts", "w": "kilowatts", "s": "recovery",
        "sec": "recovery", "seconds": "recovery", "r/min": "rpm",
    }  # fmt: skip
    if of == "volts" or unit not in units:
        if of == "volts" and unit in ("", "v"):
            return "volts"
        raise AnswerError(f"{quoted(text)}: {quoted(unit)} is no unit here; expected Hz, rpm, V, A, kW or s")
    return units[unit]


def _some(rows: Sequence[ReadingRow], name: str) -> tuple[ReadingRow, ...]:
    if not any(not row.empty for row in rows):
        raise AnswerError(f"{name}: holds no readings under its header")
    if len(rows) > MOST_ROWS:
        raise AnswerError(f"{name}: more than {MOST_ROWS} rows; a long record is a trace, not a load test")
    return tuple(row for row in rows if not row.empty)


def _columns(header: Sequence[str], place: str) -> tuple[list[str], list[str]]:
    columns, remarks = [], []
    for heading in header:
        plain = re.sub(r"[^a-z0-9%]+", " ", heading.lower()).strip()
        leg = _LEG_HEADER.fullmatch(plain)
        name = f"amps {leg[1]}" if leg else _HEADERS.get(plain, "")
        if not name and plain:
            hint = close_to(plain, _HEADERS)
            remarks.append(f"{place}: column {quoted(heading.strip())} is not used" + (f"; {hint}" if hint else ""))
        elif name in columns:
            raise AnswerError(f"{place}: two columns for {name.replace('_', ' ')}; keep one of them")
        columns.append(name)
    if not {"hertz", "rpm"} & set(columns):
        raise AnswerError(f"{place}: no column for frequency; expected one headed Hz or rpm, found {_list(header)}")
    if not {"load", "percent", "set_kilowatts", "kilowatts", "amps", "amps 1"} & set(columns):
        raise AnswerError(f"{place}: no column that tells the load; expected one headed load, load %, kW or amps")
    return columns, remarks


def _list(header: Sequence[str]) -> str:
    return ", ".join(quoted(heading.strip(), 20) for heading in header[:8]) + (" ..." if len(header) > 8 else "")


def _row(given: Sequence[tuple[str, str, str]], place: str, run: str) -> ReadingRow:
    found: dict[str, Figure] = {}
    legs: dict[str, Figure] = {}
    words = {"run": run, "behaviour": "", "note": ""}
    amps: tuple[Figure, ...] = ()
    for heading, name, cell in given:
        text = " ".join(cell.split())
        if text in ("", "-", "--"):
            continue
        where = f"{place}: {heading.strip()}"
        if name == "note":
            words["note"] = text
        elif name in ("run", "behaviour"):
            words[name] = _word(text, _RUN_WORDS if name == "run" else _BEHAVIOURS, where)
        elif name == "amps":
            amps = tuple(_cell("amps", part, where)[1] for part in re.split(r"\s*[/;&|]\s*|\s+and\s+", text))
        elif name.startswith("amps "):
            legs[name] = _cell("amps", text, where)[1]
        else:
            key, figure = _cell(name, text, where)
            if key in found:
                raise AnswerError(f"{where}: {quoted(text)} is a second value for {key.replace('_', ' ')}")
            found[key] = figure
    if legs and amps:
        raise AnswerError(f"{place}: amps are given twice, together and leg by leg; keep one of them")
    if legs:
        amps = tuple(legs[name] for name in sorted(legs))
    return ReadingRow(
        place=place, run=words["run"], behaviour=words["behaviour"], note=words["note"], amps=amps, **found
    )


def _word(text: str, known: Mapping[str, str], where: str) -> str:
    wanted = re.sub(r"[\s_-]+", " ", text.lower())
    if wanted in known:
        return known[wanted]
    hint = close_to(wanted, known)
    raise AnswerError(f"{where}: {quoted(text)} is not understood; {hint or 'expected ' + ', '.join(known)}")


def _cell(name: str, text: str, where: str) -> tuple[str, Figure]:
    """One value: the field it belongs to (a unit may move it) and the number."""
    unit, _, _, _ = _FIELDS[name]
    lowered = text.lower()
    if name == "load":
        named = re.sub(r"[\s_-]+", " ", lowered)
        if named in _NAMED_LOADS:
            return "load", Figure(_NAMED_LOADS[named])
        lowered = lowered.removesuffix(" load")
    match = re.fullmatch(r"([+-]?[\d.,]+(?:\s*/\s*\d+)?)\s*(\D*)", lowered)
    try:
        figure = read_figure(match[1]) if match else Figure(math.nan)
    except ValueError:
        figure = Figure(math.nan)
    word = match[2].strip() if match else ""
    known = _UNIT_WORDS.get(unit, {}) if name in ("load", "hertz", "rpm") else {unit.lower(): "", **_SAME.get(unit, {})}
    if math.isnan(figure.value) or (word and word not in known):
        raise AnswerError(f"{where}: {quoted(text)} is not understood; expected {_expected(name)}")
    key = known[word] or name if word else name
    if key == "watts":
        key, figure = name, Figure(figure.value / 1000.0, figure.digit / 1000.0)
    _, lowest, highest, _ = _FIELDS[key]
    if not lowest <= figure.value <= highest:
        hint = ""
        if name == "load" and not word and figure.value <= 200.0:
            hint = f'; did you mean "{figure.value:g} %"?'
        elif re.fullmatch(r"\d{1,3}[.,]\d{3}", match[1] if match else ""):
            hint = f'; did you mean "{match[1].replace(",", "").replace(".", "") if match else ""}"?'
        raise AnswerError(f"{where}: {quoted(text)} is outside what it can be, {lowest:g} to {highest:g}; "
                          f"expected {_expected(key)}{hint}")  # fmt: skip
    if key == "percent":
        key, figure = "load", Figure(figure.value / 100.0, figure.digit / 100.0)
    return key, figure


def _expected(name: str) -> str:
    if name == "load":
        return "a fraction such as 1/4 or 0.25, a percentage such as 25 %, or no load, half, full"
    unit, lowest, highest, _ = _FIELDS[name]
    return f"a number{f' in {unit}' if unit else ''} from {lowest:g} to {highest:g}"
