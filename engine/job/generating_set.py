"""The generating set that a job is at, seen through the knowledge.

Purpose: what the features of one set leave of the knowledge: priors, checks it has, remedies that can apply, and the
limits by which its readings are judged.
Law: settled when the job begins, and never changed by what is found or done.
Not here: anything that happens to the set (see `state`).
"""

from __future__ import annotations

from collections.abc import Mapping

from ..compiler import Check, Knowledge
from ..readings import Answer, read_answer
from .event import JobError, unknown


class GeneratingSet:
    """One set. `priors`: cause id -> probability, 0 where this set cannot have it. `checks`, `remedies`: by id, those
    that this set has a use for."""

    def __init__(self, knowledge: Knowledge, features: Mapping[str, object] | None, tolerance: str) -> None:
        """Raises AnswerError for an unknown feature or value, JobError for an unknown tolerance set."""
        if tolerance not in knowledge.catalogue.tolerances:
            raise unknown("tolerance set", tolerance, knowledge.catalogue.tolerances)
        self.knowledge = knowledge
        self.features = dict(knowledge.features(features))
        self.tolerance = tolerance
        self._understood: dict[tuple[str, str], Answer] = {}
        self.priors = {name: cause.prior(self.features) for name, cause in knowledge.causes.items()}
        self.checks = {
            name: check for name, check in knowledge.checks.items() if knowledge.applies(name, self.features)
        }
        self.remedies = {
            name: remedy
            for name, remedy in knowledge.remedies.items()
            if remedy.retired is None
            and remedy.only_if.holds(self.features)
            and any(self.priors[cause] > 0.0 for cause in remedy.cures)
        }

    def check(self, name: str) -> Check:
        """The check of that id. Raises JobError where there is none, or none on this set."""
        check = self.checks.get(name)
        if check is not None:
            return check
        known = self.knowledge.checks.get(name)
        if known is not None and known.retired is None:
            raise JobError(f"{name}: this set has no such thing to check (see its features)")
        raise unknown("check or complaint", name, {**self.knowledge.checks, **self.knowledge.complaints})

    def understand(self, name: str, answer: str) -> Answer:
        """A typed answer to a check, by the limits of this set. Raises JobError or AnswerError.

        It is parsed once: features and tolerance never change, so what was understood is remembered with the set.
        """
        found = self._understood.get((name, answer))
        if found is None:
            bands = self.knowledge.catalogue.tolerances[self.tolerance].bands.get(name)
            found = self._understood[name, answer] = read_answer(self.check(name), answer, self.features, bands)
        return found

    def kept(self, name: str, answer: str) -> tuple[Answer, str]:
        """How an answer is understood, and the text that is kept of it: a reading as typed, else its own name.

        Raises JobError or AnswerError.
        """
        found = self.understand(name, answer)
        text = " ".join(answer.split()) if found.values else found.text
        self._understood.setdefault((name, text), found)
        return found, text

    def unlike_the_default(self) -> str:
        """Its features where they are not the usual ones, in one line."""
        usual = self.knowledge.features()
        return " ".join(f"{name}={value}" for name, value in self.features.items() if value != usual[name])
