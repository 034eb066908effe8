"""The screen and the keyboard: wrapped text, prompts, menus, bars, plots, finding by words.

In: text and choices. Out: what was typed. Never: knows of a job or the knowledge.
"""

from . import finder, prompts, svg, wrapping
from .plot import Mark, Shade, svg_plot, text_plot
from .progress_bar import ProgressBar
from .prompts import Asker, Stop, choose, confirm, position
from .screen import Bar, Screen, chance_word, minutes, percent

__all__ = [
    "Asker",
    "Bar",
    "Mark",
    "ProgressBar",
    "Screen",
    "Shade",
    "Stop",
    "chance_word",
    "choose",
    "confirm",
    "finder",
    "minutes",
    "percent",
    "position",
    "prompts",
    "svg",
    "svg_plot",
    "text_plot",
    "wrapping",
]
