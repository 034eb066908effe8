"""What an edit of the knowledge changes: meaning, solved cases, jobs; and what closed jobs say of its words.

In: two versions of the knowledge, cases, closed jobs. Out: changes, differences with intervals, word patches, drawings.
Never: edits a file.
"""

from .call_outs import DRAWN_FOR_EACH
from .cases import CasePoint, Judged, decisive_fact, job_of_case, judge, path, play_case
from .changes import Change, changes
from .contrast import ALIKE, DiscriminatingPower, causes_borne_on, discriminating_powers, indistinct, outcome_chances
from .effect import DEPTH, NEW, OLD, MinutesDifference, PairedSet, difference, effect
from .layers import Layout, Link, PlacedBox, Rect, layered
from .likeness import areas_alike
from .meaning import Meaning, condition, meaning, strength
from .published import Deleted, Published, deleted, published, renamed
from .ring import circular
from .scope import Sets, asked_for, known_features, reasoning, reasons_differ, sets
from .stake import beliefs_only
from .tally import LEAST, LEVEL, SURE, ClosedJob, Count, Tally, as_closed_job, tally
from .word_patch import WordChange, word_changes
from .wording import reworded

__all__ = [
    "ALIKE",
    "DEPTH",
    "DRAWN_FOR_EACH",
    "LEAST",
    "LEVEL",
    "NEW",
    "OLD",
    "SURE",
    "CasePoint",
    "Change",
    "ClosedJob",
    "Count",
    "Deleted",
    "DiscriminatingPower",
    "Judged",
    "Layout",
    "Link",
    "Meaning",
    "MinutesDifference",
    "PairedSet",
    "PlacedBox",
    "Published",
    "Rect",
    "Sets",
    "Tally",
    "WordChange",
    "areas_alike",
    "as_closed_job",
    "asked_for",
    "beliefs_only",
    "causes_borne_on",
    "changes",
    "circular",
    "condition",
    "decisive_fact",
    "deleted",
    "difference",
    "discriminating_powers",
    "effect",
    "indistinct",
    "job_of_case",
    "judge",
    "known_features",
    "layered",
    "meaning",
    "outcome_chances",
    "path",
    "play_case",
    "published",
    "reasoning",
    "reasons_differ",
    "renamed",
    "reworded",
    "sets",
    "strength",
    "tally",
    "word_changes",
]
