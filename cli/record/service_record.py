"""The record of a job: everything a report says, as one plain structure.

Purpose: what was said, found, done and left, with times, verdicts and what is open, as frozen values.
Law: plain text as typed; whoever shows it makes it safe, with `clean` before anything else.
Not here: how it is collected (see `collection`), how it is laid out (see `sections`, `html`, `markdown`).
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import asdict, dataclass, field, replace

from ...engine import Hold
from .condition import AsFoundAsLeft
from .load_record import LoadTest

VERSION = 1
DISCLAIMER = (
    "Local codes and licensed practice come first. Where they say otherwise than this record, follow them.",
    "Wiring, fuel gas and live work are for those licensed for them.",
    "This record tells what was read, done and inferred. It is no inspection certificate, and it does not say that the "
    "set, its installation or its transfer switch meets any code.",
    "Causes are named with a probability, worked out from the findings above and from general figures. A probability "
    "is not a proof; what counts is the proof run.",
)
_ANSI = re.compile(r"\x1b(?:\[[0-?]*[ -/]*[@-~]|\][^\x07\x1b]*(?:\x07|\x1b\\)?|.)?|\x9b[0-?]*[ -/]*[@-~]", re.DOTALL)


def clean(text: str) -> str:
    """Text on one line, without anything that moves a cursor, changes the direction of writing or hides."""
    bare = _ANSI.sub("", text)
    kept = (
        " " if letter.isspace() or unicodedata.category(letter) in ("Zl", "Zp", "Zs") else letter
        for letter in bare if letter.isprintable() or letter.isspace()
    )  # fmt: skip
    return " ".join("".join(kept).split())


@dataclass(frozen=True, slots=True)
class RecordedComplaint:
    """A complaint: as first said, and as it stands. `said`: in the words of the one who has it."""

    id: str
    title: str
    first: str
    now: str
    at: str
    said: str = ""


@dataclass(frozen=True, slots=True)
class RecordedCheck:
    """A check as answered. `meaning`: what the answer says, in a sentence. `normal`: None where it is not known.

    `leading`, `chance`: the most probable cause just after it. `replaced`: it was answered again before any remedy.
    """

    at: str
    after: int  # remedies carried out before it
    check: str
    title: str
    answer: str
    meaning: str
    normal: bool | None
    derived: bool
    replaced: bool
    leading: str = ""
    chance: float | None = None


@dataclass(frozen=True, slots=True)
class BeforeAfter:
    """A setting or reading before and after a remedy, empty where it was not taken."""

    check: str
    title: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Suspect:
    """A cause and its probability."""

    id: str
    title: str
    chance: float


@dataclass(frozen=True, slots=True)
class RecordedRemedy:
    """A remedy. `suspected`: what it cures, with the probability just before. `shared`: number of the later remedy
    after which the set was first read again, 0 where it was read right after this one. `left`: what of it was not
    done."""

    number: int
    at: str
    remedy: str
    title: str
    brief: str
    result: str
    minutes: float
    suspected: tuple[Suspect, ...]
    changes: tuple[BeforeAfter, ...]
    shared: int = 0
    left: str = ""


@dataclass(frozen=True, slots=True)
class RecordedSetting:
    """A step of setting, as found and as left; turns of each adjuster all in all; what put it in doubt since; where it
    was put; what of it nobody looked at, with the reason; what is not right; the checks that it is read by."""

    step: str
    title: str
    state: str
    found: str
    left: str
    turns: dict[str, float]
    because: str = ""
    placed: str = ""
    unseen: tuple[str, ...] = ()
    wrong: tuple[str, ...] = ()
    checks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RecordedProof:
    """A reading of the proof of setting. passed: None where it was not read."""

    check: str
    title: str
    answer: str
    limits: str
    passed: bool | None


@dataclass(frozen=True, slots=True)
class RecordedClosing:
    """A point of the closing list. so: whether it was confirmed; None where it was not asked."""

    id: str
    title: str
    so: bool | None


@dataclass(frozen=True, slots=True)
class TimedText:
    """A remark or acknowledgement with the time it was written."""

    at: str
    text: str


@dataclass(frozen=True, slots=True)
class CautionInForce:
    """A caution that was in force, and the steps it was in force for."""

    id: str
    title: str
    text: str
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RecommendedStep:
    """A step recommended from here."""

    kind: str
    id: str
    title: str
    minutes: float
    expected_minutes: float
    why: str
    put_back: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Shift:
    """A check at the last visit and at this one."""

    check: str
    title: str
    before: str
    now: str
    kind: str
    change: str


@dataclass(frozen=True, slots=True)
class Details:
    """What the events do not know: as given for the report, else from notes that begin with these words."""

    set_name: str = ""
    site: str = ""
    meter: str = ""
    accuracy: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RecordedDrawing:
    """A drawing of the parts that a remedy or a recommended step is about."""

    id: str
    title: str
    in_words: str
    art: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ServiceRecord:
    """Everything a report says of one job. `features`, `site`: (id, title, value). `causes`: most probable first.
    `turned`: how far each adjuster was turned, all in all."""

    job: str
    created: str
    last: str
    state: str
    fixed: bool
    held: tuple[Hold, ...]
    damage: str
    knowledge: str
    other_knowledge: bool
    set_name: str
    place: str
    features: tuple[tuple[str, str, str], ...]
    site: tuple[tuple[str, str, str], ...]
    tolerance: str
    tolerance_title: str
    complaints: tuple[RecordedComplaint, ...]
    readings: tuple[AsFoundAsLeft, ...]
    findings: tuple[RecordedCheck, ...]
    remedies: tuple[RecordedRemedy, ...]
    causes: tuple[Suspect, ...]
    contradiction: str
    load_test: LoadTest | None
    cautions: tuple[CautionInForce, ...]
    acknowledged: tuple[TimedText, ...]
    open_points: tuple[str, ...]
    recommended: tuple[RecommendedStep, ...]
    meter: str
    accuracy: tuple[str, ...]
    minutes: float
    notes: tuple[TimedText, ...]
    taken_back: tuple[TimedText, ...]
    since: str = ""
    moved: tuple[Shift, ...] = ()
    settings: tuple[RecordedSetting, ...] = ()
    proof: tuple[RecordedProof, ...] = ()
    turned: tuple[str, ...] = ()
    off_as_found: tuple[str, ...] = ()
    off_as_left: tuple[str, ...] = ()
    drawings: tuple[RecordedDrawing, ...] = ()
    seen_to: tuple[RecordedClosing, ...] = ()
    disclaimer: tuple[str, ...] = field(default=DISCLAIMER)

    @property
    def outcome(self) -> str:
        """The verdict in a few words."""
        if self.held:
            return f"Stopped: {', '.join(dict.fromkeys(hold.title.lower() for hold in self.held))}; not safe to run"
        return "Fixed and proven" if self.fixed else "Not proven"

    def as_dict(self) -> dict[str, object]:
        """Plain values for JSON, with a version."""
        plain = asdict(replace(self, load_test=None))
        plain["held"] = [hold.as_dict() for hold in self.held]
        plain["load_test"] = None if self.load_test is None else self.load_test.as_dict()
        return {"version": VERSION, "outcome": self.outcome, **plain}
