"""What is only assumed of the set and counts now, at the terminal: its rated power before load is put on.

Purpose: ask what the plate gives where shares of load and amps follow from it, once in a run; keep it as assumed else.
Law: an assumed figure is said to be one wherever load steps are reckoned from it.
Not here: which features a set has (see the knowledge), and how a new set is described (see `set_prompt`).
"""

from __future__ import annotations

from ...engine import AnswerError, JobError
from .session import Session

RATING = "rated_kw"


def ask_under_load(session: Session, state: str) -> None:
    """Ask the rated power before a step in a set-up state with load on, where it is assumed. Raises Back."""
    job, catalogue = session.job, session.knowledge.catalogue
    if RATING not in job.assumed or session.rating_asked or state != catalogue.costs.proof_state:
        return
    feature = catalogue.features[RATING]
    told = f"{float(job.features[RATING]):g} {feature.unit}"
    asked = f"{feature.ask} Nobody said it: {told} is only assumed, and the load steps and amps follow from it."
    while True:
        text = session.ask(f"{asked} Enter: not known.", "kW> ", told="The figure on the nameplate, such as 6.5.")
        if not text or session.heard(text)[-1] in catalogue.typed.not_known:
            session.rating_asked = True
            session.screen.attention(f"Load steps are reckoned from {told}, assumed. Mind the amps of the plate.")
            return
        try:
            job.correct({RATING: text.lower().removesuffix("kw").strip()})
        except (AnswerError, JobError) as error:
            session.screen.problem(str(error))
            continue
        session.keep()
        session.screen.line(f"Kept: {feature.title}, {float(job.features[RATING]):g} {feature.unit}.", "green")
        return
