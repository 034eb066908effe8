"""Leaving a prompt without an answer to it.

Purpose: the two wishes that every prompt hears, whichever way it is shown.
Law: neither is an error, and neither loses what was kept.
Not here: the words that mean them (see `prompts`).
"""

from __future__ import annotations


class Stop(Exception):  # noqa: N818 - a wish of the technician, not an error
    """The technician wants to stop here. Everything is kept."""


class Back(Exception):  # noqa: N818 - a wish of the technician, not an error
    """The technician wants to go back to what was asked before."""
