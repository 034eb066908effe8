"""What a technician types, as a value with a unit and then as outcomes of a check.

In: a check, the text of an answer, the features of the set. Out: `Answer`, or an `AnswerError` that says what was
expected. `regulation` has the published percentages of what was read, for load tests and traces alike.
Never: weighs an answer, asks for one.
"""

from . import regulation
from .denial import after_yes_or_no, denies, harmless, same_sense, yes_or_no
from .extreme import base_of, difference, went_to
from .grammar import elsewhere, figure_alone, meanings
from .plain import outcome_said
from .reading import UNKNOWN_WORDS, Answer, outcome_named, rated_amps, read_answer, scale_of
from .set_words import SetWord, set_words
from .several_figures import Meaning
from .told import heard_as, is_order, may_be_order, visit_command, visit_guess
from .turns import read_turns

__all__ = [
    "UNKNOWN_WORDS",
    "Answer",
    "Meaning",
    "SetWord",
    "after_yes_or_no",
    "base_of",
    "denies",
    "difference",
    "elsewhere",
    "figure_alone",
    "harmless",
    "heard_as",
    "is_order",
    "may_be_order",
    "meanings",
    "outcome_named",
    "outcome_said",
    "rated_amps",
    "read_answer",
    "read_turns",
    "regulation",
    "same_sense",
    "scale_of",
    "set_words",
    "visit_command",
    "visit_guess",
    "went_to",
    "yes_or_no",
]
