"""A set on the command line: its features, `--set KEY=VALUE`, how it stands, `--stands HOW`, what is not there today,
`--without TOOL`, and what was done before, `--before ID`.

Purpose: one reading of these options for every command that has them.
Law: a value that cannot be used is a UsageError that shows the option and says what was expected.
Not here: which features there are (see the knowledge).
"""

from __future__ import annotations

import argparse

from ...engine import AnswerError, HertzwrightError, Job, Knowledge
from ...engine.problems import quoted


class UsageError(HertzwrightError):
    """An option that cannot be used."""


def add_features(parser: argparse.ArgumentParser, said: str = "a feature of the set, such as booster=none") -> None:
    """The option that gives features, kept as `features`. said: its help."""
    parser.add_argument("--set", metavar="KEY=VALUE", action="append", default=[], dest="features", help=said)


def stands_given(job: Job, how: str) -> None:
    """Note how the set stands. Raises UsageError for what is no way a set stands."""
    try:
        job.stands(how)
    except HertzwrightError as error:
        raise UsageError(f"--stands: {error}") from None


def without_given(job: Job, tools: list[str]) -> None:
    """Note the tools that are not there, of `--without TOOL`. Raises UsageError for what is no tool."""
    for tool in tools:
        try:
            job.not_here(tool)
        except HertzwrightError as error:
            raise UsageError(f"--without: {error}") from None


def done_before_given(job: Job, names: list[str]) -> None:
    """Note what was done before the technician came, of `--before ID[=ANSWER]`. Raises UsageError."""
    for given in names:
        name, _, answer = given.partition("=")
        try:
            job.done_before(name.strip(), answer.strip() or "unknown")
        except HertzwrightError as error:
            raise UsageError(f"--before {quoted(given)}: {error}") from None


def features_given(knowledge: Knowledge, pairs: list[str]) -> dict[str, object]:
    """Features of `--set KEY=VALUE` options. Raises UsageError with the option that is wrong."""
    given: dict[str, object] = {}
    for pair in pairs:
        name, equals, value = pair.partition("=")
        if not equals:
            raise UsageError(f"--set {quoted(pair)}: expected KEY=VALUE, such as booster=none")
        try:
            given[name.strip()] = knowledge.features({name.strip(): value})[name.strip()]
        except AnswerError as error:
            raise UsageError(f"--set {quoted(pair)}: {error}") from None
    return given
