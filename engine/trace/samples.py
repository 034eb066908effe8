"""A frequency record: times and hertz put in order, with what had to be left out.

Purpose: one shape for what a log and a recording give, and the mending of clocks and readings: midnight, repeated and
backward stamps, coarse clocks, missing readings, dropouts, gaps.
Law: times rise strictly and readings are finite; whatever is left out is remarked on with its line.
Not checked here: how the rows were written (see `logfile`). numpy is imported only inside the functions.
"""

from __future__ import annotations

from array import array
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ..problems import HertzwrightError, quoted

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Lines = NDArray[np.int64]

DAY = 86400.0
KEPT_REMARKS = 20  # of each kind; the rest are counted
FEWEST = 8  # readings
GAP = 3.0  # a pause longer than so many usual intervals is a gap
LONGEST_DROPOUT = 3.0  # s; a set cannot stop and be back at speed in less (common practice)
STRAY = 0.15  # of the usual value: no set moves so far and back between three readings (common practice)
COARSE = 0.2  # share of repeated stamps from which the clock is taken to be coarser than the readings
OUT_OF_PLACE = 5  # rows; a clock that stays behind for longer was put back


class TraceError(HertzwrightError):
    """A log or recording that cannot be used; the message has the place, the value and what was expected."""


@dataclass(frozen=True, slots=True)
class Remark:
    """Something that was survived. `line` counts from 1; 0 where it has no line of its own."""

    kind: str
    line: int
    text: str


@dataclass(frozen=True, slots=True, eq=False)
class FrequencyRecord:
    """A frequency record.

    time: s from the first reading, rising strictly. hertz: Hz, finite, one for each time.
    interval: s, the usual time between readings. resolution: Hz, the step of the meter, 0 where none is seen.
    counts: how often each kind of remark was met; `remarks` keeps the first few of each kind.
    """

    time: Floats
    hertz: Floats
    interval: float
    resolution: float
    source: str
    remarks: tuple[Remark, ...] = ()
    counts: tuple[tuple[str, int], ...] = ()


@dataclass(slots=True)
class Remarks:
    """Collects remarks: the first few of each kind, and the count of all."""

    kept: list[Remark] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)

    def add(self, kind: str, line: int, text: str) -> None:
        self.counts[kind] = self.counts.get(kind, 0) + 1
        if self.counts[kind] <= KEPT_REMARKS:
            self.kept.append(Remark(kind, line, text))

    def listed(self) -> tuple[Remark, ...]:
        return tuple(sorted(self.kept, key=lambda remark: (remark.line, remark.kind)))


def put_in_order(
    name: str, described: str, rows: tuple[array[float], array[float], array[int]], remarks: Remarks, hertz: float,
    scale: float = 1.0,
) -> FrequencyRecord:  # fmt: skip
    """The record of the rows of a file.

    Parameters: rows, the times in s, the readings and their line numbers. scale: Hz of one unit of the readings.
    hertz: rated frequency. name and described: the file and where the columns are, for messages.
    Raises TraceError where too few readings are left, or they are nowhere near the rated frequency.
    """
    import numpy as np

    time, value = np.array(rows[0]), np.array(rows[1]) * scale
    line = np.array(rows[2], dtype=np.int64)
    nan = ~np.isfinite(value)
    listed = {remark.line for remark in remarks.kept if remark.kind == "no reading"}
    written = np.flatnonzero(nan)
    for index in written[: KEPT_REMARKS * 2]:
        if int(line[index]) not in listed and remarks.counts.get("no reading", 0) < written.size:
            remarks.add("no reading", int(line[index]), "the reading is not a number")
    remarks.counts.update({"no reading": int(written.size)} if written.size else {})
    keep = np.isfinite(time) & (np.abs(time) < 1e12)
    time, value, line = time[keep], value[keep], line[keep]
    if time.size > 2 and np.count_nonzero(np.diff(time) < 0) > time.size * 0.8:
        remarks.add("newest first", 0, "the times run backwards; the file is read from its end")
        time, value, line = time[::-1], value[::-1], line[::-1]
    time = _mend_backward(time, line, remarks)
    keep = np.isfinite(time)
    time, value, line = time[keep], value[keep], line[keep]
    time = _mend_repeated(time, line, remarks)
    keep = np.isfinite(time) & np.isfinite(value)
    time, value, line = time[keep], value[keep], line[keep]
    keep = _sound(time, value, line, hertz, remarks)
    time, value, line = time[keep], value[keep], line[keep]
    if time.size < FEWEST:
        raise TraceError(
            f"{quoted(name)}: {time.size} usable readings{_first_remark(remarks)}; "
            f"expected at least {FEWEST} ({described})"
        )
    middle = float(np.median(value))
    if not 0.3 * hertz < middle < 2.0 * hertz:
        raise TraceError(
            f"{quoted(name)}: line {int(line[0])}: the readings are about {middle:.4g} Hz, expected near {hertz:g} Hz "
            f"({described}); say --columns, --poles or --hertz"
        )
    interval = float(np.median(np.diff(time)))
    for index in np.flatnonzero(np.diff(time) > GAP * interval):
        pause = time[index + 1] - time[index]
        remarks.add("gap", int(line[index + 1]), f"no reading for {pause:.6g} s before this line")
    counts = tuple(sorted(remarks.counts.items()))
    return FrequencyRecord(time - time[0], value, interval, meter_step(value), described, remarks.listed(), counts)


def _first_remark(remarks: Remarks) -> str:
    listed = remarks.listed()
    return f" (line {listed[0].line}: {listed[0].text})" if listed else ""


def _mend_backward(time: Floats, line: Lines, remarks: Remarks) -> Floats:
    """Times that never fall: midnight adds a day, a clock put back goes on, a stamp out of place becomes NaN."""
    import numpy as np

    steps = np.diff(time)
    usual = float(np.median(steps[steps > 0])) if np.any(steps > 0) else 1.0
    within_a_day = bool(time.size) and float(np.max(time)) < DAY + 1 and float(np.min(time)) >= 0
    added, bad, done = np.zeros(time.size), np.zeros(time.size, dtype=bool), 0
    for index in (int(n) + 1 for n in np.flatnonzero(steps < 0)):
        if index < done:
            continue
        before = float(time[index - 1])
        fall = before - float(time[index])
        back = np.flatnonzero(time[index : index + OUT_OF_PLACE + 1] >= before)
        if within_a_day and fall > DAY / 2:
            remarks.add("midnight", int(line[index]), "the clock passed midnight")
            added[index] = DAY
        elif index >= 2 and time[index] >= time[index - 2] and not bad[index - 2] and 1 not in back:
            remarks.add("backward time", int(line[index - 1]), "the time is ahead of the lines after it; left out")
            bad[index - 1] = True
        elif back.size:
            done = index + int(back[0])
            for place in range(index, done):
                remarks.add("backward time", int(line[place]), "the time is before that of an earlier line; left out")
            bad[index:done] = True
        else:
            text = f"the clock went back by {fall:.6g} s; the record goes on from here"
            remarks.add("backward time", int(line[index]), text)
            added[index] = fall + usual
    mended: Floats = time + np.cumsum(added)
    mended[bad] = np.nan
    # What still lies behind after all this is left out.
    highest = np.fmax.accumulate(mended)
    for index in map(int, np.flatnonzero(mended < highest)):
        remarks.add("backward time", int(line[index]), "the time is before that of an earlier line; left out")
    mended[mended < highest] = np.nan
    return mended


def _mend_repeated(time: Floats, line: Lines, remarks: Remarks) -> Floats:
    """Times that rise strictly: a clock coarser than the readings is spread evenly, a lone repeat becomes NaN."""
    import numpy as np

    same = np.flatnonzero(np.diff(time) <= 0) + 1
    if not same.size:
        return time
    if same.size > COARSE * time.size:
        starts = np.flatnonzero(np.diff(time, prepend=-np.inf) > 0)
        if starts.size > 2:
            counts = np.diff(np.append(starts, time.size))
            tick = float(np.median(np.diff(time[starts])))
            remarks.add(
                "coarse clock", int(line[same[0]]),
                f"the clock moves by {tick:.6g} s, about {np.median(counts):g} readings each; they are spread evenly",
            )  # fmt: skip
            # The first and last tick may be cut off: the first is filled from its end.
            place = np.arange(time.size) - np.repeat(starts, counts)
            share = np.repeat(np.maximum(counts, int(np.median(counts))), counts)
            place[: counts[0]] += max(0, int(np.median(counts)) - int(counts[0]))
            spread: Floats = time + tick * place / share
            return spread
    for index in same[:KEPT_REMARKS]:
        remarks.add("repeated time", int(line[index]), "the same time as the line before; left out")
    remarks.counts["repeated time"] = int(same.size)
    time = time.copy()
    time[same] = np.nan
    return time


def _sound(time: Floats, value: Floats, line: Lines, hertz: float, remarks: Remarks) -> NDArray[np.bool_]:
    """Which readings are no dropout (none or nearly none for a moment) and no stray single reading."""
    import numpy as np

    keep: NDArray[np.bool_] = value > 0.05 * hertz
    low = np.flatnonzero(~keep)
    if low.size:
        runs = np.split(low, np.flatnonzero(np.diff(low) > 1) + 1)
        for run in runs:
            first, last = int(run[0]), int(run[-1])
            outside = first > 0 and last + 1 < value.size
            lasts = float(time[last + 1] - time[first - 1]) if outside else np.inf
            word = "dropout" if lasts <= LONGEST_DROPOUT else "stopped"
            text = f"{value[first]:.4g} Hz in {run.size} readings" + (
                "; left out" if word == "dropout" else "; the set stood still or the meter was off; left out"
            )
            remarks.add(word, int(line[first]), text)
    index = np.flatnonzero(keep)
    kept = value[index]
    if kept.size > 4:
        middle = float(np.median(kept))
        limit = STRAY * middle
        off_left, off_right = kept[1:-1] - kept[:-2], kept[1:-1] - kept[2:]
        both = (np.abs(off_left) > limit) & (np.abs(off_right) > limit) & (off_left * off_right > 0)
        both &= np.abs(kept[:-2] - kept[2:]) < limit / 3
        # Only where readings come fast enough that the engine cannot have gone there and back.
        both &= (time[index[2:]] - time[index[:-2]]) < LONGEST_DROPOUT
        for place in index[1:-1][both]:
            remarks.add("stray reading", int(line[place]), f"{value[place]:.4g} Hz stands alone; left out")
        keep[index[1:-1][both]] = False
    return keep


def meter_step(value: Floats) -> float:
    """The step that all readings are a multiple of: 0.1 for a meter that shows tenths; 0 where there is none."""
    import numpy as np

    kinds = np.unique(np.round(value[:20000], 6))
    if kinds.size < 2:
        return 0.0
    step = float(np.min(np.diff(kinds)))
    whole = np.diff(kinds) / step
    even = bool(np.all(np.abs(whole - np.round(whole)) < 1e-3 * np.maximum(1.0, whole)))
    return step if step >= 1e-3 and even else 0.0
