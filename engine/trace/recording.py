"""A sound recording turned into frequency over time.

Purpose: a WAV file of mains hum, of a pickup on a conductor, or of the exhaust note, tracked as the frequency of the
set in Hz, with a stated confidence.
Law: a moment is used only where noise alone would put as much of its power on one row of harmonics in less than
FALSE_ALARM of all moments; too few of them, and the answer is that it cannot be told. The frequency is looked for from
half to 1.7 times rated. Of rows that share their tones (one is 1/2, 2/3, 3/4, 4/3, 3/2 or 2 times the other) every one
that explains all that is heard is named, and with two named, or two sources heard, nothing is sure; the higher is the
reading then, so that an overspeed is never read as less.
Sources: f = poles * rpm / 120 (TM 5-6115-584-34, para 7-1); a four-stroke cylinder fires every second revolution, so
the firing frequency is cylinders * rpm / 120; hum is heard at its frequency or at twice that (from memory).
Not here: how a row of harmonics is followed (see `harmonics`), and how the file is read (see `sound_file`). numpy is
imported only inside the functions.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from ..problems import quoted
from .harmonics import FAIR, HIGHEST, HOP, MOMENT, Followed, follow, without
from .samples import FrequencyRecord, Remarks, TraceError
from .sound_file import decimated, sound_layout

CLOSE_ROWS = 20.0  # Hz at rated speed
FAINTEST = 0.03  # of the sound; what is left below this is no second source
STILL = 0.15  # Hz, standard deviation; another hum beside it, or noise, makes one that stands still waver
CERTAIN = 0.9  # share of usable moments


@dataclass(frozen=True, slots=True)
class TrackedSound:
    """What was tracked. source: "hum" or "exhaust". share: of the moments that could be read. confidence: in words.

    others: Hz, what else the sound may be, or what else is heard in it. told: whether the reading is that of the set:
    "sure", "unsure", or "open" where it is one of several.
    """

    record: FrequencyRecord
    source: str
    share: float
    confidence: str
    others: tuple[float, ...] = ()
    told: str = "sure"


def read_recording(path: Path, hertz: float = 60.0, poles: int = 4, cylinders: int | None = None) -> TrackedSound:
    """Frequency of the set over time, Hz, from a WAV file.

    Parameters: hertz, rated. cylinders: of a four-stroke engine that fires evenly; without it only hum is looked for.
    With it, exhaust note and hum are both tried and the surer one is taken.
    Raises TraceError where the file is no WAV or the frequency cannot be told.
    """
    import numpy as np

    try:
        with path.open("rb") as file:
            sound = sound_layout(path, file)
            remarks = Remarks()
            wave, rate = decimated(file, sound, HIGHEST, remarks)
    except OSError as error:
        raise TraceError(f"{quoted(str(path))}: cannot be read: {error.strerror or error}") from None
    if wave.size < 4 * MOMENT * rate:
        lasts = f"{wave.size / rate:.3g} s"
        raise TraceError(f"{quoted(path.name)}: lasts {lasts}; expected at least {4 * MOMENT:g} s of sound")
    tried = [("hum", 1.0)]
    if cylinders is not None:
        tried.append(("exhaust", cylinders / poles))
    best: tuple[str, float, Followed] | None = None
    every: list[Followed] = []
    for source, ratio in tried:
        followed = follow(wave, rate, hertz, ratio)
        every.append(followed)
        # Of two that are as sure, the note of the engine that the user spoke of.
        if best is None or followed.share > best[2].share - 0.02:
            best = (source, ratio, followed)
    assert best is not None
    source, ratio, followed = best
    second = None
    if followed.share >= FAIR:
        rows = ratio if cylinders is None else 1 / poles  # with an engine in it, all orders of the camshaft
        rest = without(wave, rate, followed, rows)
        if float(np.std(rest)) > FAINTEST * float(np.std(wave)):
            second = _another(follow(rest, rate, hertz, 1.0), followed)
    for other in every:
        # A hum and an exhaust note that do not agree are two answers, whichever of them is the surer.
        if second is None and other.share >= FAIR and abs(other.middle / followed.middle - 1) > 0.01:
            second = other
    # Rows as close as those of a lone cylinder fit nearly any sound.
    tight = cylinders is not None and cylinders / poles * hertz < CLOSE_ROWS
    return _tracked(path.name, source, followed, second, remarks, [name for name, _ in tried], tight)


def _another(second: Followed, first: Followed) -> Followed | None:
    """The second source, where it is one: heard most of the time, and not only the first one's own edges."""
    import numpy as np

    apart = second.found - np.interp(second.time, first.time, first.path)
    apart = apart[np.isfinite(apart)]
    if second.share < FAIR or apart.size < 8 or abs(float(np.median(apart))) < 0.3:
        return None
    one_side = max(float(np.mean(apart > 0.1)), float(np.mean(apart < -0.1)))
    return second if one_side > 0.9 else None


def _tracked(
    name: str, source: str, first: Followed, second: Followed | None, remarks: Remarks, tried: list[str], tight: bool
) -> TrackedSound:
    import numpy as np

    if first.share < FAIR or np.count_nonzero(np.isfinite(first.found)) < 8:
        looked = " or ".join("a mains hum" if kind == "hum" else "an exhaust note" for kind in tried)
        hint = "" if "exhaust" in tried else "; give --cylinders to look for the exhaust note"
        raise TraceError(
            f"{quoted(name)}: cannot tell the frequency: only {first.share:.0%} of the moments have {looked} "
            f"that stands out from the noise, expected at least {FAIR:.0%}{hint}; "
            "record closer and without wind or voices"
        )
    chosen, told, others = first, "sure", first.rivals
    if second is not None:
        supplies = [one.of_supply(STILL) for one in (first, second)]
        remarks.add("two sources", 0, f"hums of {first.middle:.1f} Hz and of {second.middle:.1f} Hz are heard")
        if supplies[0] != supplies[1]:
            chosen, told = (second if supplies[0] else first), "unsure"
            supply = first if supplies[0] else second
            remarks.add("supply hum", 0, f"that of {supply.middle:.1f} Hz is taken for a public supply nearby")
            others = (supply.middle,)
        else:
            chosen, told = max((first, second), key=lambda one: one.middle), "open"
            others = (min(first.middle, second.middle),)
    if chosen.rivals:
        told, others = "open", tuple(dict.fromkeys((*chosen.rivals, *others)))
        named = " or ".join(f"{rival:.1f}" for rival in chosen.rivals)
        remarks.add("related tones", 0, f"what is heard may be {chosen.middle:.1f} Hz or {named} Hz")
    if told == "open" and (higher := max(others, default=0.0)) > 1.01 * chosen.middle:
        times, middle = higher / chosen.middle, chosen.middle
        chosen = replace(chosen, found=chosen.found * times, path=chosen.path * times)
        others = tuple(sorted({middle, *(other for other in others if other != higher)}))
    if chosen.of_supply(STILL) and told == "sure":
        told = "unsure"
        text = "the hum keeps so still that it may be that of a public supply nearby; check with the set off"
        remarks.add("steady hum", 0, text)
    if tight and told == "sure":
        told = "unsure"
        remarks.add("close rows", 0, "the firing notes lie so close together that others fit them nearly as well")
    if told == "open":
        remarks.add("not told", 0, "the higher one is shown; read the set with a meter before anything hangs on it")
    good = np.isfinite(chosen.found)
    lost = np.flatnonzero(~good)
    for run in np.split(lost, np.flatnonzero(np.diff(lost) > 1) + 1) if lost.size else []:
        begin, end = chosen.time[run[0]], chosen.time[run[-1]] + HOP
        remarks.add("not heard", 0, f"nothing stands out from {begin:.1f} s to {end:.1f} s")
    confidence = "sure" if chosen.share >= CERTAIN else "fair"
    confidence = {"sure": confidence, "unsure": "fair", "open": "open"}[told]
    described = ("mains hum" if source == "hum" else "exhaust note") + f", {chosen.share:.0%} of the moments heard"
    time, found = chosen.time[good], chosen.found[good]
    record = FrequencyRecord(
        time - time[0], found, HOP, 0.0, described, remarks.listed(), tuple(sorted(remarks.counts.items()))
    )
    return TrackedSound(record, source, chosen.share, confidence, others, told)
