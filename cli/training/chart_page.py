"""A decision chart as one sheet for the wall: an SVG, and the HTML file that holds it.

Purpose: the whole chart, its cautions and how to read it in one drawing, which fits on A4 and on Letter alike, upright
or across, whichever makes the letters larger.
Law: black on white; frames, weight and words tell steps apart, never colour. Nothing is fetched, no script runs, every
text goes through `html_safe`. The same chart gives the same bytes.
Not here: the words (see `chart_words`). Letters are measured by the widths of the usual sans-serif faces, near enough.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum

from ...engine.problems import columns
from ...engine.teaching import ChartStep
from ..record import LOCAL_CODES, clean, document, html_safe
from ..terminal import minutes, sketch, svg
from .chart_words import ChartWords

SMALLEST = 5.5
"""Points below which letters on a wall are too small to be read."""
# What both papers leave within margins of 10 mm, in points: the narrower of A4 and Letter, and the lower.
_NARROW, _LONG = 537.0, 734.0
_SIZE, _LEAD, _PAD, _GAP, _LINK, _RULE = 10.0, 12.0, 5.0, 7.0, 16.0, 3.0
_COLUMNS = (110.0, 130.0, 150.0, 170.0, 190.0, 220.0, 250.0, 290.0, 340.0)
_FACE = "'Liberation Sans', Arial, Helvetica, sans-serif"
# Widths of the letters in hundredths of the size; what is not named is as wide as "e".
_WIDTHS = {
    **dict.fromkeys("ijl'|", 23), **dict.fromkeys(" .,:;!ftI()[]/\\-", 31), **dict.fromkeys("rJ", 38),
    **dict.fromkeys("ckszvxy", 50), **dict.fromkeys("mM%WG@", 86), **dict.fromkeys("wABCDEHKNOPQRSTUVXYZ", 72),
}  # fmt: skip
_USUAL, _BOLD = 57, 1.08

_STYLE = """
@page { margin: 10mm; size: %s; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem; color: #000; background: #fff; max-width: 75rem;
  font: 16px/1.45 "Liberation Sans", Arial, Helvetica, sans-serif; overflow-wrap: break-word; }
.sheet { overflow-x: auto; }
.drawings { display: grid; grid-template-columns: repeat(auto-fit, minmax(16rem, 1fr)); gap: 1rem; }
figure { margin: 0; } figure svg { display: block; width: 100%%; max-width: 26rem; height: auto; }
.sheet svg { display: block; width: 100%%; min-width: 44rem; height: auto; }
ol, ul { padding-left: 1.2rem; } li { margin: .3rem 0; } .steps, .steps ul { list-style: none; }
.steps ul { border-left: 1px solid #000; }
@media print {
  body { padding: 0; max-width: none; }
  .sheet { overflow: hidden; break-after: avoid; }
  .sheet svg { width: %.1fpt; height: %.1fpt; min-width: 0; margin: 0 auto; }
  .words { display: none; }
  .drawings { break-before: page; grid-template-columns: 1fr 1fr 1fr; font-size: 9pt; }
  figure { break-inside: avoid; } figure svg { max-height: 74mm; }
}
"""


@dataclass(frozen=True, slots=True)
class Sheet:
    """The drawing laid out. `wide`, `high`: its own units, of which a letter has 10. `scale`: points to a unit on
    paper. `across`: the paper lies on its long side."""

    wide: float
    high: float
    scale: float
    across: bool
    body: tuple[str, ...]

    @property
    def points(self) -> float:
        """Size of the letters on paper, in points."""
        return _SIZE * self.scale


@dataclass(slots=True)
class _Box:
    """A node with its texts wrapped: (text, bold), the branch that leads to it first."""

    node: ChartStep
    rows: list[tuple[str, bool]]
    headed: int
    then: list[_Box]
    high: float = 0.0
    whole: float = 0.0


def sheet(told: ChartWords) -> Sheet:
    """The drawing that makes the letters largest on paper."""
    tried = []
    for across in (False, True):
        paper = (_LONG, _NARROW) if across else (_NARROW, _LONG)
        for column in _COLUMNS:
            root = _box(told, told.chart.root, "", column)
            wide = max(_depth(root) * (column + _LINK) - _LINK, 330.0)
            head = _head(told, wide)
            high = head[1] + root.whole + _foot(told, wide)[1]
            scale = min(paper[0] / wide, paper[1] / high, 1.2)
            tried.append((-scale, across, column, root, wide, high))
    negative, across, column, root, wide, high = min(tried, key=lambda each: each[:3])
    body, top = _head(told, wide)
    body += _drawn(root, 0.0, top, column)
    body += [row.replace("\n", "") for row in _placed(_foot(told, wide)[0], 0.0, top + root.whole + _LEAD, 8.0)]
    return Sheet(wide, high, -negative, across, tuple(body))


# ---- letters


def width(text: str, size: float = _SIZE, bold: bool = False) -> float:
    """About how wide a text is, in units."""
    units = fsum([_WIDTHS.get(letter, _USUAL * columns(letter)) for letter in text])
    return units / 100 * size * (_BOLD if bold else 1.0)


def wrapped(text: str, room: float, size: float = _SIZE, bold: bool = False) -> list[str]:
    """Text in rows that fit the room; a word that does not is cut."""
    rows = [""]
    for word in re.sub(r"(?<=\d) (?=%|min\b|h\b)", "\xa0", text).split(" "):
        longer = f"{rows[-1]} {word}".strip(" ")
        if width(longer, size, bold) <= room:
            rows[-1] = longer
            continue
        if rows[-1]:
            rows.append("")
        for letter in word:
            if rows[-1] and width(rows[-1] + letter, size, bold) > room:
                rows.append("")
            rows[-1] += letter
    return rows


def _text(x: float, y: float, text: str, size: float = _SIZE, bold: bool = False) -> str:
    return svg.text(x, y, clean(text), "", size, bold)


def _placed(rows: Sequence[tuple[str, bool]], x: float, y: float, size: float) -> list[str]:
    lead = size * _LEAD / _SIZE
    return [_text(x, y + lead * number, text, size, bold) for number, (text, bold) in enumerate(rows)]


# ---- head and foot


def _head(told: ChartWords, wide: float) -> tuple[list[str], float]:
    """Title, what comes first of all, and the cautions in columns; with the height that it takes."""
    body: list[str] = []
    y = 0.0
    for text, bold, size in (
        (told.title, True, 18.0),
        (told.stop, True, 13.0),
        (told.set, False, 9.0),
        (LOCAL_CODES, True, 9.0),
    ):
        for row in wrapped(text, wide, size, bold) if text else ():
            y += size * 1.25
            body.append(_text(0.0, y, row, size, bold))
    count = max(1, min(4, int(wide // 240)))
    room = (wide - (count - 1) * 12.0) / count
    columns: list[list[tuple[str, bool]]] = [[] for _ in range(count)]
    for title, sentence in told.cautions():
        shortest = min(columns, key=len)
        shortest += [(row, True) for row in wrapped(f"Caution: {title}", room, 8.5, True)]
        shortest += [(row, False) for row in wrapped(sentence, room, 8.5)]
    y += 15.0
    for number, listed in enumerate(columns):
        body += _placed(listed, number * (room + 12.0), y, 8.5)
    y += max(len(listed) for listed in columns) * 8.5 * 1.2
    body.append(f'<path d="M0 {y - 4:.1f}H{wide:.1f}" stroke="#000" stroke-width="1.5"/>')
    return body, y + 4.0


def _foot(told: ChartWords, wide: float) -> tuple[list[tuple[str, bool]], float]:
    """How the chart is to be read, with the height that it takes."""
    said = [
        "Thin frame: a check. Thick frame: a remedy. Double frame: a proof run. Rounded: the set is fixed and proven, "
        "close. Dashed: hand the set over. No frame: the chart ends, the job goes on.",
        *told.remarks,
        f"Knowledge {told.chart.fingerprint[:12]}.",
    ]
    rows = [(row, False) for row in wrapped(" ".join(said), wide, 8.0)]
    return rows, _LEAD + len(rows) * 9.6


# ---- the tree


def _box(told: ChartWords, node: ChartStep, leads: str, column: float) -> _Box:
    room = column - 2 * _PAD
    rows = [(row, True) for row in wrapped(leads, room, bold=True)] if leads else []
    headed = len(rows)
    number = told.number(node)
    if number:
        rows += [(row, True) for row in wrapped(f"{number}  {told.head(node)}", room, bold=True)]
        said = [f"{told.takes(node)}; about {minutes(node.expected_minutes)} to fixed and proven"]
        said += [f"Then due, before the proof run: {told.due(node)}"] if node.due else []
        said += [f"Most likely: {told.likely(node)}"] if told.likely(node) else []
        said += [f"{_capital(told.other(node))}: go on with the program"] if node.folded else []
    else:
        said = [told.end(node)]
    for text in said:
        rows += [(row, False) for row in wrapped(text, room)]
    then = [_box(told, branch.then, told.branch(node, branch), column) for branch in node.branches]
    high = len(rows) * _LEAD + 2 * _PAD + (_RULE if headed else 0.0)
    whole = max(high, fsum(box.whole for box in then) + _GAP * max(0, len(then) - 1))
    return _Box(node, rows, headed, then, high, whole)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _depth(box: _Box) -> int:
    return 1 + max((_depth(each) for each in box.then), default=0)


def _drawn(box: _Box, x: float, y: float, column: float) -> list[str]:
    """A box in the middle of its own height, with what follows to its right."""
    top = y + (box.whole - box.high) / 2
    body = _frame(box, x, top, column)
    first = top + _PAD + _SIZE - 1.5
    body += _placed(box.rows[: box.headed], x + _PAD, first, _SIZE)
    if box.headed:
        line = top + _PAD + box.headed * _LEAD + 0.5
        body.append(f'<path d="M{x + 3:.1f} {line:.1f}h{column - 6:.1f}" stroke="#000" stroke-width="0.6"/>')
        first += box.headed * _LEAD + _RULE
    body += _placed(box.rows[box.headed :], x + _PAD, first, _SIZE)
    below = y + (box.whole - fsum(each.whole for each in box.then) - _GAP * max(0, len(box.then) - 1)) / 2
    right, start = x + column, top + box.high / 2
    for each in box.then:
        middle = below + each.whole / 2
        body.append(
            f'<path d="M{right:.1f} {start:.1f}h{_LINK / 2:.1f}V{middle:.1f}h{_LINK / 2:.1f}" stroke="#000" '
            'stroke-width="1" fill="none"/>'
        )
        body += _drawn(each, right + _LINK, below, column)
        below += each.whole + _GAP
    return body


def _frame(box: _Box, x: float, y: float, wide: float) -> list[str]:
    node, high = box.node, box.high
    body = []

    def around(inset: float, stroke: float, more: str = "") -> str:
        return svg.rect(x, y, wide, high, f'fill="none" stroke="#000" stroke-width="{stroke:g}"{more}', inset)

    if node.kind == "done":
        body = [around(0.0, 2.0, ' rx="10"')] if node.ends else [around(0.0, 1.0), around(2.5, 1.0)]
    elif node.kind == "refer":
        body = [around(0.0, 1.5, ' stroke-dasharray="5 3"')]
    elif node.kind in ("check", "remedy"):
        body = [around(0.0, 1.0 if node.kind == "check" else 3.0)]
    return body


# ---- files


def drawing(told: ChartWords, laid: Sheet) -> str:
    """The whole SVG file."""
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + _svg(told, laid, paper=True) + "\n"


def _svg(told: ChartWords, laid: Sheet, *, paper: bool) -> str:
    size = f' width="{laid.wide * laid.scale:.1f}pt" height="{laid.high * laid.scale:.1f}pt"' if paper else ""
    rows = "\n".join(laid.body)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-2 0 {laid.wide + 4:.1f} {laid.high:.1f}"{size} role="img" '
        f'font-family="{_FACE}" fill="#000">\n<title>{html_safe(told.title)}</title>\n'
        f'<rect x="-2" y="0" width="{laid.wide + 4:.1f}" height="{laid.high:.1f}" fill="#fff"/>\n{rows}\n</svg>'
    )


def page(told: ChartWords, laid: Sheet) -> str:
    """The whole HTML file: the sheet, and for small screens and screen readers the same in words, not printed."""
    style = _STYLE % ("landscape" if laid.across else "portrait", laid.wide * laid.scale, laid.high * laid.scale)
    cautions = "".join(f"<li>{html_safe(f'{title}: {sentence}')}</li>\n" for title, sentence in told.cautions())
    stop = f"<p><strong>{html_safe(told.stop)}</strong></p>\n" if told.stop else ""
    return document(
        told.title,
        style,
        f'<div class="sheet">\n{_svg(told, laid, paper=False)}\n</div>\n'
        f'<main class="words">\n<h1>{html_safe(told.title)}, in words</h1>\n{stop}<p>{html_safe(LOCAL_CODES)}</p>\n'
        f"<ul>\n{cautions}</ul>\n<p>{html_safe(told.set)}</p>\n"
        f'<ul class="steps">\n<li>{_words(told, told.chart.root)}</li>\n</ul>\n'
        f"<p>{html_safe(' '.join(told.remarks))}</p>\n</main>\n{_drawings(told)}",
    )


def _drawings(told: ChartWords) -> str:
    """The parts that its steps name, drawn; on paper they are a page of their own behind the sheet."""
    figures = "".join(sketch.figure(each.art, each.title, each.in_words) for each in told.drawings)
    return f'<section class="drawings">\n{figures}</section>\n' if figures else ""


def _words(told: ChartWords, node: ChartStep) -> str:
    """A node and all that follows it as nested lists."""
    if node.ends:
        return html_safe(told.end(node))
    said = f"{told.number(node)}. {told.head(node)}; {told.takes(node)}."
    due = f" Then due, before the proof run: {told.due(node)}." if node.due else ""
    rows = "".join(
        f"<li><strong>{html_safe(told.branch(node, branch))}:</strong> {_words(told, branch.then)}</li>\n"
        for branch in node.branches
    )
    rest = f"<li>{html_safe(_capital(told.other(node)))}: go on with the program</li>\n" if node.folded else ""
    return f"{html_safe(f'{said}{due} {node.why}'.strip())}\n<ul>\n{rows}{rest}</ul>\n"
