"""What can happen to a text file, as hypothesis strategies and as seeded changes, and the children that bear it.

Purpose: damage a knowledge file or a job file as editors, disks, mail programs and people with bad intent do; run what
might not end in a child with a limit on its processor time and memory.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import textwrap
from collections.abc import Callable
from pathlib import Path

from hypothesis import strategies as st

# What a scalar may be replaced by: what programs have taken for something else than text, and what is hard to bear.
ODD = (
    "", "~", "null", "yes", "No", "1e999", "-1e999", "nan", ".inf", "0x1F", "1_000", "12:30", "2026-11-25", "1" * 5000,
    "9" * 40 + ".5", "-0", "\u0663", "[]", "{}", "[[[[", "{a: {b: [c]}}", "- x", "? x", ": x", "x: y: z", "'", '"',
    '"\\x1b[31m"', '"\\ud800"', '"\\u202e"', '"\\U00110000"', "'\x1b]8;;http://x\x07'", "|", ">-", "|9", "%YAML 9.9", "---",
    "...", "<<", "&a x", "*a", "!!int x", "!!python/object/apply:os.system [exit 3]", "!!python/name:os.system",
    "!<tag:yaml.org,2002:binary> aGk=", "!x", "@x", "`x`", "#", "x #y", "\u00e9", "\u200b", "\ufeff", "\x85", "\u2028",
    "../../etc/passwd", "x" * 3000, "always", "usually", "in" * 50,
)  # fmt: skip
_SCALAR = re.compile(r"(?<=[:-] )[^\s#{\[|>][^\n#]*$", re.MULTILINE)

Change = Callable[[str, st.DrawFn], str]


def _line(draw: st.DrawFn, text: str) -> tuple[list[str], int]:
    lines = text.split("\n")
    return lines, draw(st.integers(0, len(lines) - 1))


def _delete(text: str, draw: st.DrawFn) -> str:
    lines, at = _line(draw, text)
    del lines[at : at + draw(st.integers(1, 4))]
    return "\n".join(lines)


def _repeat(text: str, draw: st.DrawFn) -> str:
    lines, at = _line(draw, text)
    end = at + draw(st.integers(1, 6))
    return "\n".join([*lines[:end], *lines[at:end], *lines[end:]])


def _swap(text: str, draw: st.DrawFn) -> str:
    lines, at = _line(draw, text)
    other = draw(st.integers(0, len(lines) - 1))
    lines[at], lines[other] = lines[other], lines[at]
    return "\n".join(lines)


def _indent(text: str, draw: st.DrawFn) -> str:
    lines, at = _line(draw, text)
    lines[at] = " " * draw(st.integers(0, 9)) + lines[at].lstrip()
    return "\n".join(lines)


def _scalar(text: str, draw: st.DrawFn) -> str:
    places = list(_SCALAR.finditer(text))
    if not places:
        return text
    place = draw(st.sampled_from(places))
    return text[: place.start()] + draw(st.sampled_from(ODD)) + text[place.end() :]


def _before_scalar(text: str, draw: st.DrawFn) -> str:
    places = list(_SCALAR.finditer(text))
    if not places:
        return text
    place = draw(st.sampled_from(places)).start()
    mark = draw(
        st.sampled_from(("&a ", "*a ", "!!str ", "!x ", "!!python/object:os.system ", "&a !t ", "\t", "\u202e", "- "))
    )
    return text[:place] + mark + text[place:]


def _insert(text: str, draw: st.DrawFn) -> str:
    at = draw(st.integers(0, len(text)))
    return text[:at] + draw(st.one_of(st.sampled_from(ODD), st.text(max_size=8))) + text[at:]


def _merge_key(text: str, draw: st.DrawFn) -> str:
    lines, at = _line(draw, text)
    blank = len(lines[at]) - len(lines[at].lstrip())
    lines.insert(at, " " * blank + draw(st.sampled_from(("<<: *a", "<<: {a: b}", "<<: [*a, *b]", "? [a]", "? &a b"))))
    return "\n".join(lines)


def _cut(text: str, draw: st.DrawFn) -> str:
    return text[: draw(st.integers(0, len(text)))]


def _deep(text: str, draw: st.DrawFn) -> str:
    at = draw(st.integers(0, len(text)))
    opening = draw(st.sampled_from(("[", "{a: ", "- ", "? ", "\n- ")))
    return text[:at] + opening * draw(st.sampled_from((3, 39, 41, 2000))) + text[at:]


def _tabs(text: str, draw: st.DrawFn) -> str:
    lines, at = _line(draw, text)
    lines[at] = lines[at].replace("  ", "\t", 1) if "  " in lines[at] else f"\t{lines[at]}"
    return "\n".join(lines)


def _long_line(text: str, draw: st.DrawFn) -> str:
    lines, at = _line(draw, text)
    lines[at] += draw(st.sampled_from(("x", " x", ". X"))) * draw(st.sampled_from((200, 20_000)))
    return "\n".join(lines)


CHANGES: tuple[Change, ...] = (
    _delete, _repeat, _swap, _indent, _scalar, _scalar, _before_scalar, _insert, _merge_key, _cut, _deep, _tabs, _long_line,
)  # fmt: skip


def _as_it_is(data: bytes, draw: st.DrawFn) -> bytes:
    return data


def _mark(data: bytes, draw: st.DrawFn) -> bytes:
    return b"\xef\xbb\xbf" * draw(st.integers(1, 2)) + data


def _line_ends(data: bytes, draw: st.DrawFn) -> bytes:
    return data.replace(b"\n", draw(st.sampled_from((b"\r\n", b"\r", b"\n\r", b"\x0b", b"\xc2\x85"))))


def _other_encoding(data: bytes, draw: st.DrawFn) -> bytes:
    name = draw(st.sampled_from(("utf-16", "utf-16-le", "utf-32", "latin-1", "cp437", "utf-7")))
    return data.decode("utf-8", "replace").encode(name, "replace")


def _byte(data: bytes, draw: st.DrawFn) -> bytes:
    at = draw(st.integers(0, len(data)))
    return (
        data[:at]
        + draw(st.sampled_from((b"\x00", b"\xff", b"\x1b[2J", b"\xed\xa0\x80", b"\xc0\xaf", b"\x9b")))
        + data[at:]
    )


def _bit(data: bytes, draw: st.DrawFn) -> bytes:
    if not data:
        return data
    at = draw(st.integers(0, len(data) - 1))
    return data[:at] + bytes([data[at] ^ 1 << draw(st.integers(0, 7))]) + data[at + 1 :]


_BYTES = (_as_it_is, _as_it_is, _as_it_is, _mark, _line_ends, _other_encoding, _byte, _bit)


@st.composite
def damaged(draw: st.DrawFn, text: str, *, most: int = 3) -> bytes:
    """The bytes of a text file after one to `most` changes to its text, and perhaps one to its bytes."""
    for _ in range(draw(st.integers(1, most))):
        text = draw(st.sampled_from(CHANGES))(text, draw)
    return draw(st.sampled_from(_BYTES))(text.encode("utf-8", "surrogatepass"), draw)


_WORDS = st.one_of(
    st.sampled_from(
        ("a", "b", "words", "value", "set", "facts", "check", "answer", "complaint", "remedy", "result", "x y")
    ),
    st.sampled_from(ODD),
    st.text(max_size=6),
)
trees = st.recursive(
    _WORDS,
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(_WORDS, inner, max_size=4)),
    max_leaves=12,
)


def written(tree: object, indent: int = 0) -> str:
    """A tree of strings, lists and dictionaries as block YAML, with nothing quoted: right only where the words are."""
    blank = " " * indent
    if isinstance(tree, list):
        return "".join(f"{blank}-\n{written(item, indent + 2)}" for item in tree) or f"{blank}[]\n"
    if isinstance(tree, dict):
        return "".join(f"{blank}{key}:\n{written(item, indent + 2)}" for key, item in tree.items()) or f"{blank}{{}}\n"
    return f"{blank}{tree}\n"


any_yaml = trees.map(written).map(lambda text: text.encode("utf-8", "surrogatepass"))


# ---- children with limits

_LIMITS = """
import resource, signal, sys
resource.setrlimit(resource.RLIMIT_CPU, ({seconds}, {seconds}))
resource.setrlimit(resource.RLIMIT_AS, ({memory}, {memory}))
"""


POWERLESS = """
import ctypes, os
if os.getuid() == 0 and sys.platform == "linux":  # then root too may only do what the files say
    ctypes.CDLL(None).capset((ctypes.c_uint32 * 2)(0x20080522, 0), (ctypes.c_uint32 * 6)())
"""
"""Put before the code of a child that is to meet files and folders it may not read or write."""


def limited(
    code: str, *arguments: str | Path, seconds: int = 20, megabytes: int = 1500
) -> subprocess.CompletedProcess[str]:
    """Run Python code in a child that is killed after so many seconds of processor time, and has no more memory.

    What waits for something that does not come uses no processor time, so there is a limit on the wall clock too: only
    to end the test run, far beyond what any machine needs.
    """
    whole = _LIMITS.format(seconds=seconds, memory=megabytes * 1_000_000) + textwrap.dedent(code)
    return subprocess.run(
        [sys.executable, "-c", whole, *map(str, arguments)],
        stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False, timeout=20 * seconds,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONUTF8": "1"},
    )  # fmt: skip
