"""What happens in a job, one event at a time.

Purpose: the frozen events that a job is made of, the words they may use, and their form as plain values for a file.
Law: an event says what happened and nothing that follows from it; `Event.from_dict(event.as_dict()) == event`.
Not checked here: whether ids and answers fit the knowledge (see `job`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .problem import HertzwrightError, close_to, quoted, shown

RESULTS = ("cured", "not cured", "unknown")
PROOFS = ("passed", "failed")
COMPLAINT_ANSWERS = ("present", "absent", "unsure", "unknown")


class JobError(HertzwrightError):
    """A step that this job cannot take: an unknown id, a check this set does not have."""


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened. `kind`: set, complaint, check, remedy, proof, note, step_back.

    set: `features` and `tolerance` hold. complaint: answer is one of COMPLAINT_ANSWERS. check: answer as typed.
    remedy: answer is one of RESULTS. proof: answer is one of PROOFS. note: answer is the text. step_back: takes back
    the latest event that still stands and is not the set.
    """

    kind: str
    id: str = ""
    answer: str = ""
    features: Mapping[str, str | float] = field(default_factory=dict)
    tolerance: str = ""

    def as_dict(self) -> dict[str, object]:
        """Plain values for JSON, without what is empty."""
        found: dict[str, object] = {"kind": self.kind}
        if self.id:
            found["id"] = self.id
        if self.answer:
            found["answer"] = self.answer
        if self.kind == "set":
            found["features"], found["tolerance"] = dict(self.features), self.tolerance
        return found

    @classmethod
    def from_dict(cls, given: Mapping[str, object]) -> Event:
        """The event of a dict made by `as_dict`. Raises JobError for anything else."""
        kind, name, answer = (given.get(key, "") for key in ("kind", "id", "answer"))
        features, tolerance = given.get("features", {}), given.get("tolerance", "")
        if not (isinstance(kind, str) and isinstance(name, str) and isinstance(answer, str)):
            raise JobError(f"not an event: {shown(str(dict(given)))}")
        if not (isinstance(features, Mapping) and isinstance(tolerance, str)):
            raise JobError(f"not an event: {shown(str(dict(given)))}")
        return cls(kind, name, answer, dict(features), tolerance)


def unknown(what: str, name: str, known: Mapping[str, object]) -> JobError:
    """The error for an id that is not there, with the one that is spelled most like it."""
    hint = close_to(name, known)
    return JobError(f"no {what} {quoted(name)}" + (f"; {hint}" if hint else ""))
