"""The record of a job and of a set: collected, laid out, printed; the jobs kept here.

In: job files. Out: text, HTML, Markdown, JSON. Never: changes a job.
"""

from . import held, history, load_record, load_view
from .condition import (
    answer_words,
    beside,
    complaints,
    fixed,
    kept_words,
    limits,
    missing,
    needed,
    not_found,
    open_points,
    outside,
    present,
    rows,
)
from .event_text import (
    CLOSINGS,
    fitting_told,
    fraction,
    setting_told,
    standing_told,
    state,
    titled,
    turns_told,
    visit_told,
)
from .held import LOCAL_CODES
from .html import document, html_safe
from .load_record import KeptLoadTest
from .load_view import RUN_TITLES, LoadPage, print_remark
from .markdown import markdown_safe
from .report import show_settings
from .service_record import clean

__all__ = [
    "CLOSINGS",
    "LOCAL_CODES",
    "RUN_TITLES",
    "KeptLoadTest",
    "LoadPage",
    "answer_words",
    "beside",
    "clean",
    "complaints",
    "document",
    "fitting_told",
    "fixed",
    "fraction",
    "held",
    "history",
    "html_safe",
    "kept_words",
    "limits",
    "load_record",
    "load_view",
    "markdown_safe",
    "missing",
    "needed",
    "not_found",
    "open_points",
    "outside",
    "present",
    "print_remark",
    "rows",
    "setting_told",
    "show_settings",
    "standing_told",
    "state",
    "titled",
    "turns_told",
    "visit_told",
]
