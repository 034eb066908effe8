"""`hertzwright knowledge`: the workshop of those who edit the knowledge.

Purpose: the menu of what an editor of the knowledge does at the terminal.
Not here: the actions themselves (see `workshop`).
"""

from __future__ import annotations

from ..menu import Menu

MENU = Menu(
    "hertzwright knowledge",
    __package__,
    {
        "check": ("check", "every problem in the files"),
        "explain": ("explain", "what a problem code means"),
        "new": ("new", "skeleton of a new entry"),
        "tidy": ("tidy", "keys in order, prose in lines"),
        "cases": ("cases", "replay the solved cases"),
        "show": ("show", "all on one thing, or on a pair"),
        "compare": ("compare", "what a change does to jobs"),
        "rehearse": ("rehearse", "play simulated jobs"),
        "tally": ("tally", "what closed jobs say of words"),
        "card": ("card", "one sheet for the toolbox"),
        "draw": ("draw", "the graph as a picture"),
    },
    ("The knowledge: YAML files that", "anybody in the trade can improve."),
)
