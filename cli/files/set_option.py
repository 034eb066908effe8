"""Features of a set on the command line: `--set KEY=VALUE`.

Purpose: one reading of these options for every command that has them.
Law: a value that cannot be used is a UsageError that shows the option and says what was expected.
Not here: which features there are (see the knowledge).
"""

from __future__ import annotations

from ...engine import AnswerError, HertzwrightError, Knowledge
from ...engine.problems import quoted


class UsageError(HertzwrightError):
    """An option that cannot be used."""


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
