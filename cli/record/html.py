"""The report as one HTML file.

Purpose: a record that opens on any phone and prints on A4 and Letter in black and white.
Law: nothing is fetched, no script runs, and the file says so to the browser; every text goes through `html_safe`.
Not here: what the report says (see `sections`).
"""

from __future__ import annotations

import re
from html import escape

from ..terminal import sketch
from . import sections
from .figure import load_plot
from .parts import Blanks, BulletRows, FactRows, Grid, LoadCurve, Part, Section, Sketches, Words, date
from .service_record import ServiceRecord, clean

_STYLE = """
:root { color: #000; background: #fff; }
* { box-sizing: border-box; }
body { font: 16px/1.45 system-ui, "Segoe UI", "Liberation Sans", Arial, sans-serif; margin: 0 auto; padding: 1rem;
  max-width: 60rem; overflow-wrap: break-word; }
h1 { font-size: 1.5rem; line-height: 1.2; margin: 0; }
h1 + p { margin: .15rem 0 1rem; }
h2 { font-size: 1.1rem; margin: 1.6rem 0 .5rem; padding-top: .35rem; border-top: 2px solid #000; }
p { margin: .5rem 0; max-width: 46rem; }
p.strong { font-weight: 700; margin-top: .9rem; }
#result p.strong { display: inline-block; border: 3px solid #000; padding: .35rem .8rem; font-size: 1.15rem;
  margin: .2rem 0 .6rem; }
dl { margin: .5rem 0; }
dl div { display: grid; grid-template-columns: 11rem 1fr; gap: 0 1rem; padding: .1rem 0; break-inside: avoid; }
dt { font-weight: 600; }
dd { margin: 0; min-width: 0; }
ul, ol { margin: .4rem 0; padding-left: 1.4rem; }
table { border-collapse: collapse; width: 100%; margin: .6rem 0 1rem; font-size: .92em; }
caption { text-align: left; font-weight: 700; padding: .3rem 0; }
th, td { text-align: left; vertical-align: top; padding: .25rem .5rem; border: 1px solid #888; }
thead th { background: #eee; border-bottom: 2px solid #000; }
tbody th { font-weight: 600; }
figure { margin: .6rem 0 1rem; }
figure svg { display: block; width: 100%; max-width: 40rem; height: auto; }
.drawings { display: grid; grid-template-columns: repeat(auto-fit, minmax(14rem, 1fr)); gap: 1rem; }
.drawings figure svg { max-width: 22rem; }
strong { text-decoration: underline; }
.blanks { display: grid; grid-template-columns: repeat(auto-fit, minmax(15rem, 1fr)); gap: 2.4rem 2rem;
  margin-top: 2.4rem; }
.blanks div { border-top: 1px solid #000; padding-top: .2rem; font-size: .85em; }
@media print, (min-width: 48rem) {
  #set-and-site dl { columns: 2; column-gap: 2rem; }
}
@media screen and (max-width: 40rem) {
  dl div { grid-template-columns: 1fr; padding: 0 0 .45rem; }
  #set-and-site dl div { grid-template-columns: 11rem 1fr; padding: .1rem 0; }
  table, caption, tbody, tr, th, td { display: block; width: auto; }
  thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  table { border-top: 1px solid #000; }
  tr { border-bottom: 1px solid #000; padding: .35rem 0; }
  th, td { border: 0; padding: .08rem 0; }
  td:empty { display: none; }
  td::before { content: attr(data-label) ": "; color: #444; }
}
@media print {
  @page { margin: 16mm 15mm 18mm; @bottom-right { content: counter(page) " / " counter(pages); font: 8pt sans-serif; } }
  body { font-size: 9.5pt; line-height: 1.35; padding: 0; max-width: none; }
  h2, caption, p.strong { break-after: avoid; }
  tr, figure, .blanks, li { break-inside: avoid; }
  thead { display: table-header-group; break-after: avoid; }
  tbody tr:first-child { break-before: avoid; }
  dl div { grid-template-columns: 38mm 1fr; }
  figure svg { max-width: 125mm; }
  .drawings { grid-template-columns: 1fr 1fr 1fr; }
  section.whole { break-inside: avoid; }
  * { -webkit-print-color-adjust: exact; print-color-adjust: exact; }
}
"""
_WHOLE = ("result", "complaint", "signatures", "what-this-record-is-not")
# A figure and its unit stay on one line.
_UNIT = re.compile(r"(?<=\d) (?=(?:%|(?:A|Hz|V|in|kW|min|s|turns)\b))")
_BAD = re.compile(r"\b(FAIL|OUTSIDE)\b")


def html_safe(text: str) -> str:
    """Text for HTML: no control characters, everything escaped, quotes too."""
    return escape(clean(text), quote=True)


def page(record: ServiceRecord) -> str:
    """The whole file."""
    name = html_safe(record.set_name)
    body = "\n".join(_section(section) for section in sections.sections(record))
    begun = html_safe(date(record.created))
    return document(
        f"Service record {record.job}: {record.set_name}",
        _STYLE,
        f"<header><h1>Service record: <bdi>{name}</bdi></h1>"
        f"<p>Job {html_safe(record.job)}, begun {begun}</p></header>\n"
        f"<main>\n{body}\n</main>\n",
    )


def document(title: str, style: str, body: str) -> str:
    """A whole page of HTML around its body: nothing is fetched, no script runs. title: text; style, body: as is."""
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; "
        "base-uri 'none'; form-action 'none'\">\n"
        '<meta name="referrer" content="no-referrer">\n'
        f"<title>{html_safe(title)}</title>\n<style>{style}</style>\n</head>\n<body>\n{body}</body>\n</html>\n"
    )


def _section(section: Section) -> str:
    name = section.title.lower().replace(",", "").replace(" ", "-")
    whole = ' class="whole"' if name in _WHOLE else ""
    parts = "\n".join(filter(None, (_part(part) for part in section.parts)))
    return f'<section id="{name}"{whole}>\n<h2>{html_safe(section.title)}</h2>\n{parts}\n</section>'


def _part(part: Part) -> str:
    if isinstance(part, Words):
        return f"<p{' class=strong' if part.strong else ''}><bdi>{html_safe(part.text)}</bdi></p>"
    if isinstance(part, FactRows):
        rows = "".join(
            f"<div><dt>{html_safe(label)}</dt><dd><bdi>{html_safe(text)}</bdi></dd></div>\n"
            for label, text in part.rows
            if clean(text)
        )
        return f"<dl>\n{rows}</dl>" if rows else ""
    if isinstance(part, BulletRows):
        kind = "ol" if part.numbered else "ul"
        return f"<{kind}>\n" + "".join(f"<li><bdi>{html_safe(row)}</bdi></li>\n" for row in part.rows) + f"</{kind}>"
    if isinstance(part, LoadCurve):
        return f"<figure>\n{load_plot(part.load_test)}\n</figure>"
    if isinstance(part, Blanks):
        return (
            '<div class="blanks">\n' + "".join(f"<div>{html_safe(label)}</div>\n" for label in part.labels) + "</div>"
        )
    if isinstance(part, Sketches):
        figures = "".join(sketch.figure(each.art, each.title, each.in_words) for each in part.drawings)
        return f'<div class="drawings">\n{figures}</div>'
    return _table(part)


def _table(grid: Grid) -> str:
    caption = f"<caption>{html_safe(grid.caption)}</caption>\n" if grid.caption else ""
    head = "".join(f'<th scope="col">{html_safe(header)}</th>' for header in grid.headers)
    rows = []
    for row in grid.rows:
        cells = "".join(
            f'<td data-label="{html_safe(header)}">{_cell(cell)}</td>' if clean(cell) else "<td></td>"
            for header, cell in zip(grid.headers[1:], row[1:], strict=True)
        )
        rows.append(f'<tr><th scope="row">{_cell(row[0])}</th>{cells}</tr>')
    return f"<table>\n{caption}<thead><tr>{head}</tr></thead>\n<tbody>\n" + "\n".join(rows) + "\n</tbody>\n</table>"


def _cell(text: str) -> str:
    """A cell, with the words in it that nobody should miss set off."""
    shown = _BAD.sub(r"<strong>\1</strong>", _UNIT.sub("&nbsp;", html_safe(text)))
    return f"<bdi>{shown}</bdi>"
