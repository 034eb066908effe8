"""The screen and the keyboard: wrapped text, prompts, menus, bars, plots, finding by words.

In: text and choices. Out: what was typed. Never: knows of a job or the knowledge.
"""

from ...engine.problems import percent
from . import finder, letters, prompts, sketch, svg, wrapping
from .leaving import Back, Stop
from .page import Choice, Line, Page, Row
from .plot import Mark, Shade, svg_plot, text_plot
from .progress_bar import ProgressBar
from .prompts import (
    BACK_WORDS,
    HELP_WORDS,
    STOP_WORDS,
    Asker,
    choose,
    choose_several,
    confirm,
    position,
    present,
    sheet,
)
from .screen import Bar, Screen, chance_word, minutes

__all__ = [
    "BACK_WORDS",
    "HELP_WORDS",
    "STOP_WORDS",
    "Asker",
    "Back",
    "Bar",
    "Choice",
    "Line",
    "Mark",
    "Page",
    "ProgressBar",
    "Row",
    "Screen",
    "Shade",
    "Stop",
    "chance_word",
    "choose",
    "choose_several",
    "confirm",
    "finder",
    "letters",
    "minutes",
    "percent",
    "position",
    "present",
    "prompts",
    "sheet",
    "sketch",
    "svg",
    "svg_plot",
    "text_plot",
    "wrapping",
]
