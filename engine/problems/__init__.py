"""What may be wrong, said well: problems as values, the codes with their stories, the tree of errors, safe text.

In: a code, a place in a file, what was met. Out: `Problem`, `HertzwrightError` and its kin, text that may be printed.
Never: reads a file, knows what a cause or a check is.
"""

from .codes import CODES, Code
from .figures import figure, in_sentence, limit_text, percent
from .problem import (
    WIDEST,
    AnswerError,
    HertzwrightError,
    KnowledgeError,
    Problem,
    close_to,
    columns,
    listed,
    printable,
    quoted,
    render,
    shown,
    worst_first,
)

__all__ = [
    "CODES",
    "WIDEST",
    "AnswerError",
    "Code",
    "HertzwrightError",
    "KnowledgeError",
    "Problem",
    "close_to",
    "columns",
    "figure",
    "in_sentence",
    "limit_text",
    "listed",
    "percent",
    "printable",
    "quoted",
    "render",
    "shown",
    "worst_first",
]
