"""The knowledge base as the rest of the engine and outside programs see it.

Purpose: load it, look things up, and the two numbers everything rests on: priors and likelihoods.
Law: immutable once loaded; the same files give the same numbers.
Not checked here: the files themselves (see `reader`).
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from importlib.resources import as_file, files
from pathlib import Path
from typing import TYPE_CHECKING

from ..problems import AnswerError, KnowledgeError, close_to, quoted
from .catalogue import Catalogue
from .drawing import Drawing
from .features import read_features
from .graph import PROOF_RUN, Network, build_graph, compile_network
from .looks import joint_likelihood
from .model import Case, Cause, Check, Complaint, Features, Remedy
from .packing import packed, unpacked
from .unit import Unit
from .work_model import Tolerance

if TYPE_CHECKING:
    import networkx as nx


class Knowledge:
    """Everything the trade knows, as loaded.

    Mappings from id to frozen values, in the order of the files: causes, checks, complaints, remedies, cases and
    (through `catalogue`) cautions, states, order rules, tolerances, features and words.
    """

    def __init__(self, catalogue: Catalogue, network: Network | None = None) -> None:
        self.catalogue = catalogue
        self._graph: nx.DiGraph[str] | None = None
        self._network = network

    def __reduce__(self) -> tuple[Callable[[bytes], Knowledge], tuple[bytes]]:
        # Frozen mappings cannot be sent to another process as they are.
        return _received, (packed(self.catalogue, self.network),)

    @property
    def causes(self) -> Mapping[str, Cause]:
        return self.catalogue.causes

    @property
    def checks(self) -> Mapping[str, Check]:
        return self.catalogue.checks

    @property
    def complaints(self) -> Mapping[str, Complaint]:
        return self.catalogue.complaints

    @property
    def remedies(self) -> Mapping[str, Remedy]:
        return self.catalogue.remedies

    @property
    def cases(self) -> Mapping[str, Case]:
        return self.catalogue.cases

    @property
    def drawings(self) -> Mapping[str, Drawing]:
        return self.catalogue.drawings

    @property
    def units(self) -> Mapping[str, Unit]:
        return self.catalogue.units

    @property
    def fingerprint(self) -> str:
        """Changes when, and only when, something said in the files changes."""
        return self.catalogue.fingerprint

    @property
    def graph(self) -> nx.DiGraph[str]:
        """The typed graph (see `graph`), built when first asked for."""
        if self._graph is None:
            self._graph = build_graph(self.catalogue)
        return self._graph

    @property
    def network(self) -> Network:
        """The tables for inference, compiled from the graph."""
        if self._network is None:
            costs = self.catalogue.costs
            self._network = compile_network(self.graph, costs.proof_shows, costs.proof_false, self.shown_alike)
        return self._network

    def features(self, given: Mapping[str, object] | None = None) -> Features:
        """Features of a set, defaults filled in. Raises AnswerError on an unknown name or value."""
        return read_features(given or {}, self.catalogue.features)

    def tolerance(self, name: str) -> Tolerance:
        """The tolerance set of this name. Raises AnswerError with the names there are."""
        known = self.catalogue.tolerances
        if name not in known:
            hint = close_to(name, known, f"known are {', '.join(known)}")
            raise AnswerError(f"no tolerance set {quoted(name)}; {hint}")
        return known[name]

    def prior(self, cause_id: str, features: Mapping[str, object] | None = None) -> float:
        """Probability that a set with these features that is called out has the cause. KeyError for unknown ids."""
        return self.causes[cause_id].prior(self.features(features))

    def likelihood(self, check_id: str, outcome: str, present: frozenset[str] = frozenset()) -> float:
        """P(outcome | exactly these causes present), by noisy-MAX with leak.

        Raises KeyError for an unknown check or cause or a retired check, ValueError for an unknown outcome.
        """
        position = self.checks[check_id].index(outcome)
        for cause in present:
            if cause not in self.causes:
                raise KeyError(cause)
        return self.distribution(check_id, present)[position]

    def distribution(self, check_id: str, present: frozenset[str]) -> tuple[float, ...]:
        """Probability of every outcome of a check, in order, with exactly these causes present."""
        network = self.network
        shows = network.shows[check_id]
        # P(outcome so far | causes): each further cause takes the higher of its own outcome and what is seen.
        seen = list(network.leak[check_id])
        for cause in sorted(present):
            own = shows.get(cause)
            if own is None:
                continue
            below_seen = below_own = 0.0
            following = []
            for value, chance in zip(seen, own, strict=True):
                following.append(value * (below_own + chance) + below_seen * chance)
                below_seen += value
                below_own += chance
            seen = following
        return tuple(seen)

    @property
    def right_when_unsure(self) -> float:
        """Chance, 0 to 1, that an answer with a question mark is right; also that an "unsure" complaint is there."""
        return self.catalogue.words["usually"].value

    @property
    def leak_again(self) -> float:
        """Chance, 0 to 1, that the leak of a check shows the same at every look at it, in whatever epoch; else it is
        drawn at each look. The false alarm of a proof run is always drawn anew."""
        return self.catalogue.words["usually"].value

    @property
    def shown_alike(self) -> float:
        """Chance, 0 to 1, that a cause is drawn once for all checks of a group, so that what is mild is mild in all of
        them; else once for each check. The same check looked at again always shows the same of a cause."""
        return self.catalogue.words["usually"].value

    @property
    def proof_shows(self) -> float:
        """Chance, 0 to 1, that one cause that is there makes a proof run fail; drawn for each cause at each run."""
        return self.catalogue.costs.proof_shows

    @property
    def proof_false_alarm(self) -> float:
        """Chance, 0 to 1, that a proof run fails with no cause there; drawn at each run."""
        return self.catalogue.costs.proof_false

    def answer_likelihood(
        self, check_id: str, outcomes: Collection[str] | Mapping[str, float], sure: bool = True
    ) -> tuple[float, ...]:
        """P(this answer | outcome) for every outcome of a check, in order.

        outcomes: those that the answer fits; a mapping says how well, 0 to 1 (`Answer.fits` of a reading near a limit).
        sure: so much for these and 0 for the others; else between a least chance for every outcome, the rest of
        `right_when_unsure` in equal shares over those that do not fit, and `right_when_unsure` for a full fit.
        KeyError, ValueError for unknown names.
        """
        check = self.checks[check_id]
        given = outcomes if isinstance(outcomes, Mapping) else dict.fromkeys(outcomes, 1.0)
        fits = [0.0] * len(check.outcomes)
        for outcome, fit in given.items():
            fits[check.index(outcome)] = fit
        if sure:
            return tuple(fits)
        right = self.right_when_unsure
        least = (1.0 - right) / max(1, fits.count(0.0))
        return tuple(least + (right - least) * fit for fit in fits)

    def joint_likelihood(self, looks: Sequence[tuple[str, str, frozenset[str]]]) -> float:
        """P(all these looks show these outcomes), by the draws of causes and leaks (see `looks`, and `shown_alike`).

        looks: (check id, outcome, causes there at that look), in any order; the same check may stand several times,
        before and after a remedy. A proof run is ("proof_run", "passed" or "failed", causes there).
        One look gives what `likelihood` gives. Work grows with the outcomes to the power of the looks at one group.
        Raises KeyError for an unknown check or cause or a retired check, ValueError for an unknown outcome.
        """
        numbered = []
        for check_id, outcome, present in looks:
            for cause in present:
                if cause not in self.causes:
                    raise KeyError(cause)
            if check_id != PROOF_RUN:
                position = self.checks[check_id].index(outcome)
            elif outcome in ("passed", "failed"):
                position = int(outcome == "failed")
            else:
                raise ValueError(f'"{outcome}" is no result of a proof run; expected passed or failed')
            numbered.append((check_id, position, present))
        return joint_likelihood(self.network, numbered, self.leak_again)

    def applies(self, check_id: str, features: Features) -> bool:
        """Whether a check can be made on a set with these features."""
        check = self.checks[check_id]
        return check.retired is None and check.only_if.holds(features)


def drawing_of(knowledge: Knowledge, name: str) -> Drawing | None:
    """The drawing with an id, or that of a check, a remedy, a cause or a step of setting: of a cause that of its first
    remedy that has one, of a step that of its work or of what accepts it. None where there is none, also for an id that
    nothing has."""
    if name in knowledge.drawings:
        return knowledge.drawings[name]
    steps: tuple[str, ...] = (name,)
    if name in knowledge.causes:
        steps = knowledge.causes[name].remedies
    elif name in knowledge.catalogue.setting:
        setting = knowledge.catalogue.setting[name]
        steps = (*setting.works, *setting.accepts)
    by_step = {step: drawing for drawing in knowledge.drawings.values() for step in drawing.of}
    return next((by_step[step] for step in steps if step in by_step), None)


def _received(body: bytes) -> Knowledge:
    return Knowledge(*unpacked(body))


def load_knowledge(path: str | Path | None = None) -> Knowledge:
    """The shipped knowledge, or that of a folder (a checkout).

    Raises KnowledgeError with every problem found where there is an error among them.
    """
    if path is None:
        with as_file(files("hertzwright.knowledge")) as folder:
            return load_knowledge(folder)
    from .reader import read_catalogue  # YAML and JSON Schema are only loaded where files are really read

    with _uncollected():
        catalogue, problems = read_catalogue(Path(path))
    if catalogue is None:
        raise KnowledgeError(problems)
    return Knowledge(catalogue)


@contextmanager
def _uncollected() -> Iterator[None]:
    """Reading makes a hundred thousand values that nearly all stay: walking them for garbage is a fifth of its time."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()
