"""What happens in a job, one event at a time.

Purpose: the frozen events that a job is made of, the words they may use, and their form as plain values for a file.
Law: an event says what happened and nothing that follows from it; `Event.from_dict(event.as_dict()) == event`.
Not checked here: whether ids and answers fit the knowledge (see `job`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..problems import HertzwrightError, close_to, quoted, shown

KINDS = (
    "set", "stands", "feature", "complaint", "check", "remedy", "proof", "taken_off", "put_back", "note",
    "acknowledged", "secured", "load_reading", "closed", "reopened", "step_back", "setting", "set_to",
    "not_here", "here", "before", "left",
)  # fmt: skip
BESIDE = ("note", "acknowledged", "left")
"""Kinds that say something beside the work and change nothing of it."""
LEFT = ("confirmed", "not confirmed")
RESULTS = ("cured", "not cured", "unknown")
BEFORE = ("unknown", "not cured")
PROOFS = ("passed", "failed")
COMPLAINT_ANSWERS = ("present", "absent", "unsure", "explained", "unknown")
"""explained: it was no fault of the set; what was said before of it counts no more."""
CLOSINGS = ("fixed", "open", "handed_over", "not_found", "not_proven_under_load")
RUNS = ("as_found", "as_left")
LOAD_READINGS = (*RUNS, "full_load", "accuracy", "trace")
SETTINGS = ("begun", "left")
"""Answers of a setting: the set is set in order from here on, or no longer."""
DISTURBED = "disturbed"
"""Id of a setting that was begun after a cure: only what was disturbed is set."""
SET_TO = ("set", "turned", "no response")
MISTAKE = "mistake"
"""Answer of a step back that takes back what was never so: a slip of the finger, another set."""


class JobError(HertzwrightError):
    """A step that this job cannot take: an unknown id, a check this set does not have."""


class HeldError(JobError):
    """A step that must not be taken while the job is held: the set is to be shut down and made safe first."""


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened. `kind` is one of KINDS.

    set: `features` and `tolerance` hold. stands: id is how the set stands, as found or on coming back. feature:
    `features` that were wrong, as they are. complaint: answer is one of COMPLAINT_ANSWERS;
    `cells` in whose words.
    check: answer as typed. remedy: answer is one of RESULTS; `cells` what of it was left undone. proof: answer is one
    of PROOFS. note: answer is the text, and never more than that. taken_off, put_back: id is a fitting; answer of
    taken_off is "as found" where it was off already. acknowledged: id is the step, or "job"; answer is what was
    acknowledged. secured: the set was shut down and its throttle proven to close; answer is who says so. load_reading:
    id is one of LOAD_READINGS, `cells` what was read, by the headings of a readings file. closed: id is one of
    CLOSINGS. reopened. setting: answer is one of SETTINGS, id DISTURBED or empty; `cells` name what is done on
    request. set_to: id is a step of setting, answer one of SET_TO; `cells` what was turned, by adjuster, or where it
    was put, and in a remedy that begins with it the step. step_back: takes back the latest event that still stands and
    is not the set; answer MISTAKE where it was never so. not_here, here: id is a tool that is not there today, or has
    come. before: id is a remedy that somebody carried out before the technician came, answer "unknown" or "not cured";
    or a check that somebody made, answer as told, never sure. left: id is a point of the closing list, or a fitting
    that was off, answer one of LEFT.
    """

    kind: str
    id: str = ""
    answer: str = ""
    features: Mapping[str, str | float] = field(default_factory=dict)
    tolerance: str = ""
    cells: Mapping[str, str] = field(default_factory=dict)

    def as_dict(self) -> dict[str, object]:
        """Plain values for JSON, without what is empty."""
        found: dict[str, object] = {"kind": self.kind}
        if self.id:
            found["id"] = self.id
        if self.answer:
            found["answer"] = self.answer
        if self.kind == "set":
            found["features"], found["tolerance"] = dict(self.features), self.tolerance
        elif self.features:
            found["features"] = dict(self.features)
        if self.cells:
            found["cells"] = dict(self.cells)
        return found

    @classmethod
    def from_dict(cls, given: Mapping[str, object]) -> Event:
        """The event of a dict made by `as_dict`. Raises JobError for anything else."""
        kind, name, answer = (given.get(key, "") for key in ("kind", "id", "answer"))
        features, tolerance, cells = given.get("features", {}), given.get("tolerance", ""), given.get("cells", {})
        if not (isinstance(kind, str) and isinstance(name, str) and isinstance(answer, str)):
            raise JobError(f"not an event: {shown(str(dict(given)))}")
        if not (isinstance(features, Mapping) and isinstance(tolerance, str) and isinstance(cells, Mapping)):
            raise JobError(f"not an event: {shown(str(dict(given)))}")
        if not all(isinstance(value, str | int | float) for value in features.values()):
            raise JobError(f"not an event: {shown(str(dict(given)))}")
        if not all(isinstance(cell, str) for cell in cells.values()):
            raise JobError(f"not an event: {shown(str(dict(given)))}")
        return cls(kind, name, answer, dict(features), tolerance, dict(cells))


def in_use(name: str, known: Mapping[str, object]) -> bool:
    """Whether an item is there and not retired."""
    return name in known and getattr(known[name], "retired", None) is None


def unknown(what: str, name: str, known: Mapping[str, object]) -> JobError:
    """The error for an id that cannot be used: retired, with what stands in for it, or not there, with the one in use
    that is spelled most like it."""
    gone = getattr(known.get(name), "retired", None)
    if gone is not None:
        instead = f"; use {gone.replaced_by}" if gone.replaced_by else ""
        return JobError(f"{name}: retired since {gone.since}{instead}")
    hint = close_to(name, [other for other, each in known.items() if getattr(each, "retired", None) is None])
    return JobError(f"no {what} {quoted(name)}" + (f"; {hint}" if hint else ""))
