"""A file named on the command line, read whole.

Purpose: its bytes, or one message that says which file, what is wrong, and what was expected.
Law: never more than the limit is held, however long the file is or for ever standard input goes on.
Not here: what the bytes mean; YAML is read by the engine, and a trace in pieces.
"""

from __future__ import annotations

import sys
from pathlib import Path

from ...engine import HertzwrightError
from ...engine.problems import printable

STANDARD_INPUT = "-"


def file_name(name: str) -> str:
    """What a file is called in messages."""
    return "standard input" if name == STANDARD_INPUT else printable(name)


def read_whole(name: str, largest: int, refusal: type[HertzwrightError], beyond: str) -> bytes:
    """The bytes of a file, or of standard input for "-".

    largest: bytes allowed. beyond: what is said of a file that is longer. Raises `refusal` for that, and for a file
    that cannot be read.
    """
    try:
        if name == STANDARD_INPUT:
            data = sys.stdin.buffer.read(largest + 1)
        else:
            with Path(name).open("rb") as stream:
                data = stream.read(largest + 1)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "not the name of a file"
        raise refusal(f"{file_name(name)}: cannot be read: {reason}") from None
    if len(data) > largest:
        raise refusal(f"{file_name(name)}: longer than {largest:,} bytes{beyond}")
    return data
