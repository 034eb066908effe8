"""A decision chart laid out on one sheet for the wall.

Purpose: the whole chart, its cautions, the remedies that its ends name and how to read it in one drawing, which fits on
A4 and on Letter alike, upright or across, whichever makes the letters larger. Where they would be too small for a wall,
the rarest ways are folded, and the sheet says so.
Law: black on white; frames, weight and words tell steps apart, never colour. The same chart gives the same sheet.
Not here: the words (see `chart_words`), the files (see `chart_page`), and how wide letters are (see `letters`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import fsum

from ...engine.teaching import Branch, ChartStep, fold
from ..record import LOCAL_CODES, clean
from ..terminal import letters, minutes, svg
from .chart_words import ChartWords

WANTED = 7.0
"""Points that letters shall have; ways are folded for it."""
_SHARES = (*(n / 200 for n in range(5, 20)), *(n / 100 for n in range(10, 21)))
"""Shares of the sets below which ways are folded, one after the other, until letters are large enough."""
_COARSE = (0.12, 0.08, 0.055, 0.04)
# What both papers leave within margins of 10 mm, in points: the narrower of A4 and Letter, and the lower.
_NARROW, _LONG = 537.0, 734.0
_SIZE, _LEAD, _PAD, _GAP, _LINK, _RULE = 10.0, 12.0, 5.0, 6.0, 16.0, 3.0
_SMALL = 8.5
_COLUMNS = (120.0, 135.0, 150.0, 165.0, 180.0, 195.0, 210.0, 230.0, 250.0, 290.0, 340.0)
_THIN, _THICK, _INSET = 1.0, 3.0, 2.0


@dataclass(frozen=True, slots=True)
class Sheet:
    """The drawing laid out, and the chart as it stands there. `wide`, `high`: its own units, of which a letter has 10.
    `scale`: points to a unit on paper. `across`: the paper lies on its long side."""

    told: ChartWords
    wide: float
    high: float
    scale: float
    across: bool
    body: tuple[str, ...]

    @property
    def points(self) -> float:
        """Size of the letters on paper, in points."""
        return _SIZE * self.scale


Paragraph = list[tuple[str, bool]]
"""Texts below one another that stay together, each with whether it is bold."""


@dataclass(slots=True)
class _Section:
    """A part of a box between two rules, wrapped. `commonest`: the commonest way ends in it."""

    rows: Paragraph
    commonest: bool = False


@dataclass(slots=True)
class _Box:
    """A step: the branch that leads to it, what is done, and each branch that ends here, with the boxes that follow."""

    node: ChartStep
    sections: list[_Section]
    then: list[_Box]
    high: float = 0.0
    whole: float = 0.0


def widest(made: Callable[[float], ChartWords], least: float) -> Sheet:
    """The sheet with as few ways folded as letters of WANTED points allow, not more than those below `least`.

    made: the chart with ways below a share folded. What would be folded in the end is not worked out first: charts are
    made with ever fewer ways until one is too much for its sheet.
    """
    for share in (share for share in _COARSE if share > least > 0.0):
        told = made(share)
        if _laid(told).points < WANTED:
            return sheet(told)
    return sheet(made(least))


def sheet(told: ChartWords) -> Sheet:
    """The sheet of a chart, its rarest ways folded where the letters would be smaller than WANTED."""
    best = _laid(told)
    if best.points >= WANTED:
        return best
    shares = [share for share in _SHARES if share > told.chart.least > 0.0]
    low, high = 0, len(shares)  # the fewer ways, the larger the letters: halved, not tried one by one
    while low < high:
        middle = (low + high) // 2
        made = _laid(ChartWords(told.knowledge, fold(told.chart, shares[middle])))
        if made.points >= WANTED:
            best, high = made, middle
        else:
            best, low = max(best, made, key=lambda each: min(each.points, WANTED)), middle + 1
    return best


def _laid(told: ChartWords) -> Sheet:
    """The drawing of a chart that makes the letters largest on paper."""
    tried = []
    for column in _COLUMNS:
        boxes = _boxes(told, column)
        wide = max(_margin(told) + max(map(_depth, boxes)) * (column + _LINK) - _LINK, 330.0)
        head = _head(told, wide)[1] + _first(told, wide)[1]
        high = head + _whole(boxes) + _remedies(told, wide)[1] + _foot(told, wide)[1]
        for across in (False, True):
            paper = (_LONG, _NARROW) if across else (_NARROW, _LONG)
            scale = min(paper[0] / wide, paper[1] / high, 1.2)
            tried.append((-scale, across, column, boxes, wide, high))
    negative, across, column, boxes, wide, high = min(tried, key=lambda each: each[:3])
    body, top = _head(told, wide)
    first, taken = _first(told, wide, top)
    body += first
    body += _forest(told, boxes, top, top + taken, column)
    top += taken + _whole(boxes)
    rows, taken = _remedies(told, wide, top)
    body += [*rows, *_foot(told, wide, top + taken)[0]]
    drawn = tuple(each if isinstance(each, str) else _text(each) for each in body)
    return Sheet(told, wide, high, -negative, across, drawn)


# ---- letters


TextRow = tuple[float, float, str, float, bool]
"""A row of text: x, y of its line, what is said, its size, and whether it is bold."""
Body = list[str | TextRow]
"""What is drawn: pieces of SVG, and texts that become it once it is known that they are drawn."""


def _rows(paragraph: Paragraph, room: float, size: float) -> Paragraph:
    """Its texts in rows that fit the room."""
    return [(row, bold) for text, bold in paragraph for row in letters.wrapped(text, room, size, bold)]


def _text(row: TextRow) -> str:
    x, y, said, size, bold = row
    return svg.text(x, y, clean(said), "", size, bold)


def _placed(rows: Sequence[tuple[str, bool]], x: float, y: float, size: float) -> Body:
    lead = size * _LEAD / _SIZE
    return [(x, y + lead * number, text, size, bold) for number, (text, bold) in enumerate(rows)]


def _columned(paragraphs: Sequence[Paragraph], wide: float, least: float, top: float) -> tuple[Body, float]:
    """Paragraphs of small letters from `top` on, in columns at least so wide, in their order; and the height that they
    take."""
    count = max(1, min(4, int(wide // least)))
    room = (wide - (count - 1) * 12.0) / count
    laid = [_rows(each, room, _SMALL) for each in paragraphs]
    most = max((len(each) for each in laid), default=0)
    total = sum(map(len, laid))
    # The lowest height at which they fill no more columns than there are.
    high = next(at for at in range(max(most, -(-total // count)), total + 1) if _filled(laid, at) <= count)
    body: Body = []
    column, at = 0, 0
    lead = _SMALL * _LEAD / _SIZE
    for each in laid:
        if at and at + len(each) > high:
            column, at = column + 1, 0
        body += _placed(each, column * (room + 12.0), top + _SMALL + lead * at, _SMALL)
        at += len(each)
    return body, high * lead


def _filled(laid: Sequence[Sequence[object]], high: int) -> int:
    """How many columns of so many rows paragraphs take."""
    columns, at = 1, 0
    for each in laid:
        if at and at + len(each) > high:
            columns, at = columns + 1, 0
        at += len(each)
    return columns


# ---- head and foot


def _head(told: ChartWords, wide: float) -> tuple[Body, float]:
    """Title, what comes first of all, and the cautions in columns; with the height that it takes."""
    body: Body = []
    y = 0.0
    for text, bold, size in (
        (told.title, True, 18.0),
        (told.stop, True, 13.0),
        (told.set, False, 9.0),
        (LOCAL_CODES, True, 9.0),
    ):
        for row in letters.wrapped(text, wide, size, bold) if text else ():
            y += size * 1.25
            body.append((0.0, y, row, size, bold))
    y += 6.0
    cautions, high = _columned(
        [[(f"CAUTION, {title.upper()}: {text}", False)] for title, text in told.cautions()], wide, 240, y
    )
    body += cautions
    y += high + 6.0
    body.append(_rule(y, wide))
    return body, y + 8.0


def _rule(y: float, wide: float) -> str:
    return f'<path d="M0 {y:.1f}H{wide:.1f}" stroke="#000" stroke-width="1.5"/>'


def _remedies(told: ChartWords, wide: float, top: float = 0.0) -> tuple[Body, float]:
    """The remedies that ends name, each under its letter."""
    rows: list[Paragraph] = [[(f"{row.letter}  {row.title}", True), (row.said, False)] for row in told.remedies]
    if not rows:
        return [], 0.0
    body, high = _columned([*rows, [(told.proof, True)]], wide, 215, top + 14.0)
    return [_rule(top + 9.0, wide), *body], high + 18.0


def _foot(told: ChartWords, wide: float, top: float = 0.0) -> tuple[Body, float]:
    """How the chart is to be read, with the height that it takes."""
    said = [
        "Thick: the commonest way. Single frame: a check. Double frame: a remedy. Rounded frame: a proof run.",
        *told.remarks,
        f"Knowledge {told.chart.fingerprint[:12]}.",
    ]
    rows = _rows([(" ".join(said), False)], wide, 8.0)
    return [_rule(top + 6.0, wide), *_placed(rows, 0.0, top + 18.0, 8.0)], 12.0 + len(rows) * 9.6


def _first(told: ChartWords, wide: float, top: float = 0.0) -> tuple[Body, float]:
    """What was said, measured before anything else: a box as wide as the sheet, from which all ways go."""
    if not told.chart.measured:
        return [], 0.0
    node, room = told.chart.root, wide - 2 * _PAD
    said = [
        f"{told.takes(node)}; about {minutes(node.expected_minutes)} to fixed and proven",
        *([capital(told.folded(node, short=True))] if node.folded else []),
    ]
    for branch in node.branches:
        if branch.then.kind == "other":
            said.append(f"{capital(told.branch(node, branch))}: not as it was said; {told.elsewhere(branch)}")
    head = f"{told.number(node)}  Measure first: {told.measures}"
    rows = _rows([(head, True), *((text, False) for text in said)], room, _SIZE)
    high = len(rows) * _LEAD + 2 * _PAD
    frame = svg.rect(0.0, top, wide, high, _ink(_THICK))
    return [frame, *_placed(rows, _PAD, top + _PAD + _SIZE - 1.5, _SIZE)], high + _GAP + 2.0


# ---- the tree


def _ink(thick: float, more: str = "") -> str:
    return f'fill="none" stroke="#000" stroke-width="{thick:g}"{more}'


def _margin(told: ChartWords) -> float:
    """Room on the left for the line that comes from the first box."""
    return _LINK if told.chart.measured else 0.0


def _boxes(told: ChartWords, column: float) -> list[_Box]:
    """The first boxes of the tree with all that follows: those after what was measured, or else the first step."""
    root = told.chart.root
    if not told.chart.measured:
        return [_box(told, root, None, root, column)]
    ways = [branch for branch in root.branches if branch.then.kind != "other"]
    return [_box(told, branch.then, branch, root, column) for branch in ways]


def _whole(boxes: Sequence[_Box]) -> float:
    return fsum(box.whole for box in boxes) + _GAP * max(0, len(boxes) - 1)


def _box(told: ChartWords, node: ChartStep, branch: Branch | None, before: ChartStep, column: float) -> _Box:
    sections = [[(told.branch(before, branch), True)]] if branch else []
    if node.ends:  # nothing follows what was measured
        sections.append([(capital(each), False) for each in _ending(told, node, branch)])
    else:
        done = [told.takes(node), *([f"First put back on: {told.put_back(node)}"] if node.put_back else [])]
        done += [f"Then due, before the proof run: {told.due(node)}"] if node.due else []
        sections.append([(f"{told.number(node)}  {told.head(node)}", True), *((text, False) for text in done)])
    marks = [False] * len(sections)
    for each in node.branches:
        if each.then.ends:
            ending = [(capital(text), False) for text in _ending(told, each.then, each)]
            sections.append([(told.branch(node, each), True), *ending])
            marks.append(told.commonest(each.then))
    if node.folded:
        sections.append([(capital(told.folded(node, short=True)), False)])
        marks.append(False)
    room = column - 2 * _PAD - 2 * _INSET
    laid = [_Section(_rows(each, room, _SIZE), mark) for each, mark in zip(sections, marks, strict=True)]
    then = [_box(told, each.then, each, node, column) for each in node.branches if not each.then.ends]
    high = fsum(_tall(each) for each in laid) + _RULE * (len(laid) - 1) + 2 * _PAD
    return _Box(node, laid, then, high, max(high, _whole(then)))


def _tall(section: _Section) -> float:
    return len(section.rows) * _LEAD


def _ending(told: ChartWords, node: ChartStep, branch: Branch | None) -> Sequence[str]:
    """What stands where a way ends."""
    if node.kind == "other" and branch:
        return [*told.ending(node), told.elsewhere(branch)]
    return told.ending(node, short=True)


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _depth(box: _Box) -> int:
    return 1 + max((_depth(each) for each in box.then), default=0)


def _forest(told: ChartWords, boxes: Sequence[_Box], start: float, top: float, column: float) -> Body:
    """All boxes, and the line along the left edge that comes to the first of them from the box above."""
    left, y = _margin(told), top
    body: Body = []
    for box in boxes:
        if left:
            body.append(
                _line(told, box.node, f"M{left / 2:.1f} {top - _GAP - 2.0:.1f}V{y + box.whole / 2:.1f}H{left:.1f}")
            )
        body += _drawn(told, box, left, y, column)
        y += box.whole + _GAP
    return body


def _line(told: ChartWords, node: ChartStep, way: str) -> str:
    """The line that leads to a node, thick on the commonest way."""
    return f'<path d="{way}" {_ink(_THICK if told.commonest(node) else _THIN)}/>'


def _drawn(told: ChartWords, box: _Box, x: float, y: float, column: float) -> Body:
    """A box in the middle of its own height, with what follows to its right."""
    top = y + (box.whole - box.high) / 2
    body: Body = [*_frame(box, x, top, column, told.commonest(box.node))]
    at = top + _PAD
    for number, section in enumerate(box.sections):
        if number:
            body.append(f'<path d="M{x + 4:.1f} {at + 1.5:.1f}h{column - 8:.1f}" stroke="#000" stroke-width="0.6"/>')
            at += _RULE
        if section.commonest:
            bar = f"M{x + 4:.1f} {at + 1.0:.1f}v{_tall(section) - 1.0:.1f}"
            body.append(f'<path d="{bar}" stroke="#000" stroke-width="{_THICK - 0.5:g}"/>')
        body += _placed(section.rows, x + _PAD + _INSET, at + _SIZE - 1.0, _SIZE)
        at += _tall(section)
    below = y + (box.whole - _whole(box.then)) / 2
    right, start = x + column, top + box.high / 2
    # The thick line last, so that no thin one lies on it.
    lines = []
    for each in box.then:
        middle = below + each.whole / 2
        way = f"M{right:.1f} {start:.1f}h{_LINK / 2:.1f}V{middle:.1f}h{_LINK / 2:.1f}"
        lines.append((told.commonest(each.node), _line(told, each.node, way)))
        body += _drawn(told, each, right + _LINK, below, column)
        below += each.whole + _GAP
    return [*(line for _, line in sorted(lines)), *body]


def _frame(box: _Box, x: float, y: float, wide: float, commonest: bool) -> list[str]:
    """The outline of a box by what it is; thick on the commonest way."""
    thick, rounded = _THICK if commonest else _THIN, ' rx="10"' if box.node.kind == "done" else ""
    outline = [svg.rect(x, y, wide, box.high, _ink(thick, rounded))]
    if box.node.kind == "remedy":
        outline.append(svg.rect(x, y, wide, box.high, _ink(_THIN), 3.0))
    return outline
