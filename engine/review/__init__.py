"""What an edit of the knowledge changes: meaning, solved cases, jobs; and what closed jobs say of its words.

In: two versions of the knowledge, cases, closed jobs. Out: changes, differences with intervals, word patches, drawings.
Never: edits a file.
"""

from .cases import CasePoint, Judged, judge, lead_taken, path, play_case
from .changes import Change, Meaning, changes, condition, meaning, strength
from .contrast import ALIKE, Power, alike, moved_by, powers, seen
from .effect import NEW, OLD, MinutesDifference, Twin, difference, effect
from .layers import Layout, Link, PlacedBox, Rect, layered
from .likeness import areas_alike
from .published import Deleted, Published, deleted, published
from .ring import ring
from .scope import Sets, asked_for, known_to, met_by, reasoning, sets
from .tally import LEAST, LEVEL, SURE, ClosedJob, Count, Tally, as_closed_job, tally
from .word_patch import WordChange, word_changes
from .wording import reworded

__all__ = [
    "ALIKE",
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
    "Judged",
    "Layout",
    "Link",
    "Meaning",
    "MinutesDifference",
    "PlacedBox",
    "Power",
    "Published",
    "Rect",
    "Sets",
    "Tally",
    "Twin",
    "WordChange",
    "alike",
    "areas_alike",
    "as_closed_job",
    "asked_for",
    "changes",
    "condition",
    "deleted",
    "difference",
    "effect",
    "judge",
    "known_to",
    "layered",
    "lead_taken",
    "meaning",
    "met_by",
    "moved_by",
    "path",
    "play_case",
    "powers",
    "published",
    "reasoning",
    "reworded",
    "ring",
    "seen",
    "sets",
    "strength",
    "tally",
    "word_changes",
]
