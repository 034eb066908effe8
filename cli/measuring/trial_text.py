"""Trials as a technician writes them: turns in words or fractions, readings, steady or hunting, one line or a file.

Purpose: text, CSV, YAML or JSON in; trials for the coach out, each with the line it came from.
Law: nonsense is refused with the value, what was expected and an example; nothing is guessed silently.
Not checked here: whether a trial is possible on the set (see `engine.trim`).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ...engine.compiler import (
    Adjuster,
    AdjusterPair,
    MappingNode,
    Node,
    ScalarNode,
    SequenceNode,
    SourceFile,
    parse,
    parse_number,
)
from ...engine.problems import AnswerError, close_to, quoted
from ...engine.readings import read_turns
from ...engine.trim import Trial, TrimError
from ..files import input_file

_LARGEST = 1_000_000
_MOST_ROWS = 200
_ALSO = ("hunting", "minutes")
_STEADY = ("steady", "no", "n", "s", "0", "false", "still")
_HUNTS = ("hunting", "hunts", "hunt", "yes", "y", "h", "1", "true", "swings", "surges")


@dataclass(frozen=True, slots=True)
class TrialsFile:
    """What a file of trials holds. tolerance is empty where it names none."""

    trials: tuple[Trial, ...]
    features: Mapping[str, str]
    tolerance: str = ""
    pair: str = ""


def read_hertz(text: str, label: str) -> float:
    """Hz from "61.5" or "61.5 Hz". Raises AnswerError."""
    bare = text.strip()
    if bare.lower().endswith("hz"):
        bare = bare[:-2].strip()
    try:
        value = parse_number(bare)
    except ValueError:
        raise AnswerError(f"{quoted(text)} for {label}; expected Hz, such as 61.5") from None
    if not 20.0 <= value <= 150.0:
        raise AnswerError(f"{quoted(text)} for {label}; expected 20 to 150 Hz")
    return value


def read_hunting(text: str) -> tuple[bool | None, float | None]:
    """Whether it hunts, and its swing from peak to peak in Hz where that was given. Raises AnswerError."""
    bare = " ".join(text.lower().split())
    if bare in ("", "unknown", "not looked"):
        return None, None
    if bare in _STEADY:
        return False, None
    if bare in _HUNTS:
        return True, None
    number, _, word = bare.removeprefix("swing").strip().replace("hz", " ").partition(" ")
    word = word.strip()
    if word and word not in (*_STEADY, *_HUNTS):
        number = f"{number} {word}"  # 1 1/2 is one number
    try:
        size = parse_number(number)
    except ValueError:
        raise AnswerError(
            f"{quoted(text)}; expected steady, hunting, or the swing from peak to peak such as 1.2 Hz"
        ) from None
    if not 0.0 <= size <= 30.0:
        raise AnswerError(f"swing of {quoted(text)}; expected 0 to 30 Hz")
    hunts = size >= 0.5
    if word in (*_STEADY, *_HUNTS) and (word in _HUNTS) is not hunts:
        raise AnswerError(f"{quoted(text)}; a swing of {size:g} Hz is {'hunting' if hunts else 'steady'}: which is it?")
    return hunts, size


def trial_of(fields: Mapping[str, str], pair: AdjusterPair, adjusters: Mapping[str, Adjuster]) -> Trial:
    """A trial from named texts. Raises AnswerError or TrimError."""
    known = (*pair.response, *pair.readings, *_ALSO)
    for name in fields:
        if name not in known:
            hint = close_to(name, known, f"known are {', '.join(known)}")
            raise TrimError(f"unknown name {quoted(name)}; {hint}")
    place = tuple(
        read_turns(fields[name], adjusters[name]) if fields.get(name, "").strip() else 0.0 for name in pair.response
    )
    values = tuple(
        read_hertz(fields[name], name.replace("_", " ")) if fields.get(name, "").strip() else None
        for name in pair.readings
    )
    if not any(value is not None for value in values):
        raise TrimError(f"a trial without a reading; expected {' and '.join(pair.readings)}")
    hunts, swing = read_hunting(fields.get("hunting", ""))
    written, minutes = fields.get("minutes", "").strip(), None
    if written:
        try:
            minutes = parse_number(written)
        except ValueError:
            raise AnswerError(f"{quoted(written)} for minutes; expected minutes since the start, such as 12") from None
        if not 0.0 <= minutes <= 1440.0:
            raise AnswerError(f"{quoted(written)} for minutes; expected 0 to 1440")
    return Trial(place, values, hunts, swing, minutes)


def data_of(name: str) -> tuple[bytes, str]:
    """The bytes of a file, or of standard input for "-", and its name as shown. Raises TrimError."""
    return input_file.read_whole(name, _LARGEST, TrimError, "; trials are a few lines"), input_file.file_name(name)


def pair_named(data: bytes, shown: str) -> str:
    """The pair that a YAML or JSON file names, empty where none."""
    if not _is_yaml(data, shown):
        return ""
    root = parse(data, shown).root
    node = root.values.get("pair") if isinstance(root, MappingNode) else None
    return node.value if isinstance(node, ScalarNode) else ""


def trials_of(data: bytes, shown: str, pair: AdjusterPair, adjusters: Mapping[str, Adjuster]) -> TrialsFile:
    """The trials in a file's bytes. Raises TrimError with the file and line of everything that is wrong."""
    if _is_yaml(data, shown):
        return _from_page(parse(data, shown), pair, adjusters)
    try:
        text = data.decode("utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig")
    except UnicodeDecodeError as error:
        raise TrimError(f"{shown}: byte {error.start} is not UTF-8; save the file as UTF-8") from None
    return _from_csv(text, shown, pair, adjusters)


def _is_yaml(data: bytes, shown: str) -> bool:
    if Path(shown).suffix.lower() in (".yaml", ".yml", ".json"):
        return True
    first = next((line for line in data.splitlines() if line.strip() and not line.lstrip().startswith(b"#")), b"")
    bare = first.strip()
    return bare.startswith((b"{", b"[", b"- ")) or (b":" in bare and b"," not in bare and b";" not in bare)


def _from_csv(text: str, shown: str, pair: AdjusterPair, adjusters: Mapping[str, Adjuster]) -> TrialsFile:
    lines = [
        (number, line) for number, line in enumerate(text.splitlines(), 1) if line.strip() and line.strip()[0] != "#"
    ]
    known = (*pair.response, *pair.readings, *_ALSO)
    if not lines:
        raise TrimError(f"{shown}: no trials; the first line names {','.join(known)}")
    mark = max(";\t,", key=lambda each: lines[0][1].count(each))
    rows = [next(csv.reader(io.StringIO(line), delimiter=mark), []) for _, line in lines]
    head = ["_".join(cell.lower().replace("-", " ").split()) for cell in rows[0]]
    head = [name.removesuffix("_hz").removesuffix("_turns") for name in head]
    if not set(head) & set(known):
        raise TrimError(
            f"{shown}:{lines[0][0]}: {quoted(lines[0][1])}; expected a first line of names, {','.join(known)}"
        )
    faults: list[str] = []
    found: list[Trial] = []
    for (number, _), row in zip(lines[1:], rows[1:], strict=True):
        cells = row + [""] * (len(head) - len(row))
        if len(cells) > len(head):
            faults.append(f"{shown}:{number}: {len(cells)} fields; expected {len(head)}")
            continue
        try:
            found.append(trial_of(dict(zip(head, cells, strict=True)), pair, adjusters))
        except (AnswerError, TrimError) as error:
            faults.append(f"{shown}:{number}: {error}")
    if faults:
        raise TrimError("\n".join(faults[:10]))
    return TrialsFile(_few(found, shown), {})


def _few(found: Sequence[Trial], shown: str) -> tuple[Trial, ...]:
    if not found:
        raise TrimError(f"{shown}: names, and no trial under them")
    if len(found) > _MOST_ROWS:
        raise TrimError(f"{shown}: {len(found)} trials; expected at most {_MOST_ROWS}")
    return tuple(found)


def _from_page(page: SourceFile, pair: AdjusterPair, adjusters: Mapping[str, Adjuster]) -> TrialsFile:
    faults = [f"{page.file}:{problem.line}: {problem.message}" for problem in page.problems]
    root = page.root
    top = root.values if isinstance(root, MappingNode) else {}
    listed: Node | None = root if isinstance(root, SequenceNode) else top.get("trials")
    if isinstance(root, MappingNode):
        for key, node in root.keys.items():
            if key not in ("set", "tolerance", "pair", "trials"):
                faults.append(
                    f"{page.file}:{node.line}: unknown key {quoted(key)}; known are set, tolerance, pair, trials"
                )
    if not isinstance(listed, SequenceNode) and not faults:
        faults.append(
            f"{page.file}:1: expected a list of trials, such as - {{speed: 1/4, no_load: 61.5, hunting: steady}}"
        )
    found: list[Trial] = []
    for item in listed.items if isinstance(listed, SequenceNode) else ():
        if not isinstance(item, MappingNode) or not all(isinstance(each, ScalarNode) for each in item.values.values()):
            faults.append(f"{page.file}:{item.line}: expected a trial, such as {{speed: 1/4, no_load: 61.5}}")
            continue
        fields = {key: each.value for key, each in item.values.items() if isinstance(each, ScalarNode)}
        try:
            found.append(trial_of(fields, pair, adjusters))
        except (AnswerError, TrimError) as error:
            faults.append(f"{page.file}:{item.line}: {error}")
    if faults:
        raise TrimError("\n".join(faults[:10]))
    described, tolerance = top.get("set"), top.get("tolerance")
    features = (
        {key: each.value for key, each in described.values.items() if isinstance(each, ScalarNode)}
        if isinstance(described, MappingNode)
        else {}
    )
    return TrialsFile(_few(found, page.file), features, tolerance.value if isinstance(tolerance, ScalarNode) else "")
