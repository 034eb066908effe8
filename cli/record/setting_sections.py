"""The settings of a set in a record, as found and as left, and the proof of them.

Purpose: what setting came to put as the parts of a section: what was changed or is not right line by line, the rest in
one line each.
Law: plain text only; nothing is called right here that the sheet does not call so.
Not here: what is right (see the sheet of the engine's `setting`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ...engine.setting import FOUND, LEFT_OUT
from .parts import Grid, Part, Words, verdict_told
from .service_record import RecordedProof, RecordedSetting


def setting_parts(settings: Sequence[RecordedSetting], turned: Sequence[str]) -> Iterable[Part]:
    """Every setting as found and as left: what was changed or is not right line by line, the rest in one each."""
    alone = [each for each in settings if each.state == FOUND]
    left_out = [each for each in settings if each.state == LEFT_OUT and not each.unseen]
    rows = [
        (each.title, each.found, "" if each.left == each.found else each.left, _state(each))
        for each in settings
        if each not in alone and each not in left_out
    ]
    if rows:
        yield Grid("", ("Setting", "As found", "As left", "State"), tuple(rows))
    if turned:
        yield Words(f"Turned, all in all: {'; '.join(turned)}.")
    if alone:
        yield Words(f"Right as found, and left alone: {'; '.join(map(_setting_found, alone))}.")
    if left_out:
        yield Words(f"Left out, since the work has not touched it: {'; '.join(each.title for each in left_out)}.")


def proof_parts(proof: Sequence[RecordedProof]) -> Iterable[Part]:
    """The proof of setting: what has limits or is outside line by line, the rest in one, and what was not read."""
    rows = [each for each in proof if each.passed is not None and (each.limits or not each.passed)]
    if rows:
        told = [verdict_told(each.passed, each.limits) for each in rows]
        cells = tuple((each.title, each.answer, said) for each, said in zip(rows, told, strict=True))
        yield Grid("", ("Reading", "As left", "Verdict"), cells)
    if right := [f"{each.title}: {each.answer}" for each in proof if each.passed and not each.limits]:
        yield Words(f"Right: {'; '.join(right)}.")
    if unread := [proof_unread(each) for each in proof if each.passed is None]:
        yield Words(f"Not read: {'; '.join(unread)}.", strong=True)


def _state(each: RecordedSetting) -> str:
    parts = [f"{each.state}, because of: {each.because}" if each.because else each.state]
    parts += [f"not right: {', '.join(each.wrong)}"] if each.wrong else []
    return "; ".join((*parts, *each.unseen))


def _setting_found(each: RecordedSetting) -> str:
    """A setting that was right, with its figure where it has one and no more."""
    return f"{each.title} ({each.found})" if each.found[:1].isdigit() and ";" not in each.found else each.title


def proof_unread(each: RecordedProof) -> str:
    """A reading of the proof that is missing, with what would be right and why nobody has it."""
    why = "nobody could tell" if each.answer else ""
    told = "; ".join(filter(None, (each.limits, why)))
    return f"{each.title} ({told})" if told else each.title
