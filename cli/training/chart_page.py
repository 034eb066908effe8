"""The sheet of a decision chart as a file: an SVG, an HTML page, or a booklet of many in one HTML file.

Purpose: one page of paper for a chart and no more; on a screen the same in words, and the parts drawn.
Law: nothing is fetched, no script runs, every text goes through `html_safe`. The same sheet gives the same bytes.
Not here: how a sheet is laid out (see `chart_sheet`), and the words (see `chart_words`).
"""

from __future__ import annotations

from collections.abc import Sequence

from ...engine.compiler import Drawing
from ...engine.teaching import Branch, ChartStep
from ..record import LOCAL_CODES, document, html_safe
from ..terminal import letters, sketch
from .chart_sheet import Sheet, capital
from .chart_words import ChartWords

BOOKLET = "Decision charts for the wall"
_STYLE = f"""
@page {{ margin: 10mm; }} @page upright {{ size: portrait; }} @page across {{ size: landscape; }}
* {{ box-sizing: border-box; }}
body {{ margin: 0 auto; padding: 1rem; color: #000; background: #fff; max-width: 75rem;
  font: 16px/1.45 {letters.FACE}; overflow-wrap: break-word; }}
.sheet {{ overflow-x: auto; }} .upright {{ page: upright; }} .across {{ page: across; }}
.drawings {{ display: grid; grid-template-columns: repeat(auto-fit, minmax(16rem, 1fr)); gap: 1rem; }}
figure {{ margin: 0; }} figure svg {{ display: block; width: 100%; max-width: 26rem; height: auto; }}
.sheet svg {{ display: block; width: 100%; min-width: 44rem; height: auto; }}
ol, ul {{ padding-left: 1.2rem; }} li {{ margin: .3rem 0; }} .steps, .steps ul {{ list-style: none; }}
.steps ul {{ border-left: 1px solid #000; }}
@media print {{
  body {{ padding: 0; max-width: none; }}
  .sheet {{ overflow: hidden; break-inside: avoid; }} .sheet + .sheet {{ break-before: page; }}
  .sheet svg {{ width: auto; min-width: 0; margin: 0 auto; }}
  .words, .drawings, .contents {{ display: none; }}
}}
"""


def drawing(laid: Sheet) -> str:
    """The whole SVG file."""
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + _svg(laid, "") + "\n"


def _svg(laid: Sheet, more: str) -> str:
    """The drawing. more: attributes, written as they are."""
    title = html_safe(laid.told.title)
    rows = "\n".join(laid.body)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-2 0 {laid.wide + 4:.1f} {laid.high:.1f}" '
        f'width="{(laid.wide + 4) * laid.scale:.1f}pt" height="{laid.high * laid.scale:.1f}pt" role="img" '
        f'font-family="{letters.FACE}" fill="#000"{more}>\n<title>{title}</title>\n'
        f'<rect x="-2" y="0" width="{laid.wide + 4:.1f}" height="{laid.high:.1f}" fill="#fff"/>\n{rows}\n</svg>'
    )


def page(laid: Sheet) -> str:
    """The whole HTML file: the sheet, and for small screens and screen readers the same in words and the parts drawn,
    which are not printed."""
    return document(laid.told.title, _STYLE, f"{_sheet(laid)}{_in_words(laid.told, 1)}{_drawings(laid.told.drawings)}")


def booklet(sheets: Sequence[Sheet]) -> str:
    """Every sheet in one HTML file, one page of paper each; on the screen a list of them stands first."""
    listed = "".join(
        f'<li><a href="#{html_safe(each.told.chart.complaint)}">{html_safe(each.told.title)}</a></li>\n'
        for each in sheets
    )
    drawings = {drawn.id: drawn for each in sheets for drawn in each.told.drawings}
    return document(
        BOOKLET,
        _STYLE,
        f'<nav class="contents">\n<h1>{BOOKLET}</h1>\n<ul>\n{listed}</ul>\n</nav>\n'
        + "".join(f"{_sheet(each)}{_in_words(each.told, 2)}" for each in sheets)
        + _drawings(tuple(drawings.values())),
    )


def _sheet(laid: Sheet) -> str:
    lies = "across" if laid.across else "upright"
    return f'<div class="sheet {lies}" id="{html_safe(laid.told.chart.complaint)}">\n{_svg(laid, "")}\n</div>\n'


def _in_words(told: ChartWords, level: int) -> str:
    """A chart and its remedies as lists. level: of the heading."""
    cautions = "".join(f"<li>{html_safe(f'{title}: {sentence}')}</li>\n" for title, sentence in told.cautions())
    stop = f"<p><strong>{html_safe(told.stop)}</strong></p>\n" if told.stop else ""
    remedies = "".join(
        f"<li><strong>{html_safe(f'{row.letter}. {row.title}')}</strong><br>{html_safe(row.said)}</li>\n"
        for row in told.remedies
    )
    return (
        f'<section class="words">\n<h{level}>{html_safe(told.title)}, in words</h{level}>\n{stop}'
        f"<p>{html_safe(LOCAL_CODES)}</p>\n<ul>\n{cautions}</ul>\n<p>{html_safe(told.set)}</p>\n"
        f'<ul class="steps">\n<li>{_words(told, told.chart.root)}</li>\n</ul>\n'
        f'<ul class="steps">\n{remedies}</ul>\n<p>{html_safe(told.proof)}</p>\n'
        f"<p>{html_safe(' '.join(told.remarks))}</p>\n</section>\n"
    )


def _drawings(drawings: Sequence[Drawing]) -> str:
    """The parts that the steps name, drawn."""
    figures = "".join(sketch.figure(each.art, each.title, each.in_words) for each in drawings)
    return f'<section class="drawings">\n{figures}</section>\n' if figures else ""


def _words(told: ChartWords, node: ChartStep, branch: Branch | None = None) -> str:
    """A node and all that follows it as nested lists."""
    if branch and node.kind == "other":
        return html_safe(f"{told.end(node)}; {told.elsewhere(branch)}")
    if node.ends:
        return html_safe(told.end(node))
    said = f"{told.number(node)}. {told.head(node)}; {told.takes(node)}."
    due = f" Then due, before the proof run: {told.due(node)}." if node.due else ""
    rows = "".join(
        f"<li><strong>{html_safe(told.branch(node, branch))}:</strong> {_words(told, branch.then, branch)}</li>\n"
        for branch in node.branches
    )
    rest = f"<li>{html_safe(capital(told.folded(node)))}</li>\n" if node.folded else ""
    return f"{html_safe(f'{said}{due} {node.why}'.strip())}\n<ul>\n{rows}{rest}</ul>\n"
