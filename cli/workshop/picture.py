"""A scene as a picture: SVG for people, DOT for other programs that lay out graphs.

Purpose: boxes with their texts, lines with their words, notes and a legend on one sheet that fits A4 and Letter.
Law: black on white; shape, thickness, dashes and words tell things apart, never colour. Nothing is fetched, no script
runs; every text goes through `html_safe` or `quote`. The same scene gives the same bytes, and those are ASCII.
Not here: what is drawn (see `neighbours`), where (see `review.layers`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum

from ...engine.review import Layout, Link, PlacedBox, Rect, circular, layered
from ..record import clean, html_safe
from ..terminal import letters
from ..terminal import svg as pieces
from .neighbours import Item, Scene, Tie

_NARROW, _LONG = 537.0, 734.0
"""What A4 and Letter both leave within margins of 10 mm, in points."""
_TITLE, _SIZE, _SMALL = 17.0, 10.0, 8.5
_LEAD, _PAD, _MARGIN, _HEAD, _BELOW = 1.2, 6.0, 10.0, 7.0, 18.0
_COLUMN, _AREA, _BUNDLE, _LABEL, _LEAST_WIDE = 158.0, 165.0, 290.0, 126.0, 460.0
# From how strong on a line is how thick, and how it is dashed.
_BANDS = ((0.8, 3.4, ""), (0.45, 2.0, ""), (0.2, 1.2, "6 3"), (0.0, 1.0, "1.5 3"))
_ALIKE = ((0.4, 3.4, ""), (0.3, 2.0, ""), (0.2, 1.2, "6 3"), (0.0, 1.0, "1.5 3"))
_OTHERS = {
    "says": (0.9, "9 2 2 2"),
    "proves": (0.7, ""),
    "then": (0.7, ""),
    "before": (2.0, ""),
    "disturbs": (0.9, "6 3"),
    "accepts": (0.7, ""),
    "works": (0.7, ""),
}
_LINES = {
    "shows": "the cause shows",
    "cures": "the remedy cures",
    "alike": "areas look alike",
    "says": "a complaint means this answer of the check",
    "proves": "the check proves the remedy",
    "then": "one remedy is due after another",
    "before": "one step comes before another",
    "disturbs": "a step is done again after another",
    "accepts": "the check accepts the step",
    "works": "the remedy is the work of the step",
}
_BOXES = {
    "cause": "cause",
    "check": "check",
    "complaint": "complaint",
    "remedy": "remedy",
    "setting": "step of setting",
    "area": "area",
}
_DOT = {
    "cause": "shape=box",
    "check": 'shape=box, style="rounded"',
    "complaint": "shape=octagon",
    "remedy": "shape=box, peripheries=2",
    "setting": "shape=box",
    "area": "shape=box",
}

Row = tuple[str, float, bool]
"""A row of text, its size, and whether it is bold."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A scene laid out. rows: the texts of every box, by id; labels: the rows of every tie, in their order."""

    scene: Scene
    layout: Layout
    rows: dict[str, tuple[Row, ...]]
    labels: tuple[tuple[str, ...], ...]

    @property
    def points(self) -> float:
        """Size of the letters on paper, in points."""
        return _SIZE * _sheet(self)[2]


def picture(scene: Scene) -> Picture:
    """Lay a scene out."""
    usual = _AREA if scene.kind == "overview" else _COLUMN
    column = {item.id: _BUNDLE if item.parts else usual for item in scene.items}
    rows = {item.id: _rows(item, column[item.id] - 2 * _PAD) for item in scene.items}
    nodes = [PlacedBox(item.id, column[item.id], _high(rows[item.id]) + 2 * _PAD, item.layer) for item in scene.items]
    labels = tuple(tuple(letters.wrapped(clean(tie.words), _LABEL, _SMALL)) for tie in scene.ties)
    links = [
        Link(tie.source, tie.target, max(letters.width(row, _SMALL) for row in said) + 5.0,
             len(said) * _SMALL * _LEAD + 1.0, tie.chance or 0.0)
        for tie, said in zip(scene.ties, labels, strict=True)
    ]  # fmt: skip
    layout = circular(nodes, links) if scene.kind == "overview" else layered(nodes, links)
    return Picture(scene, layout, rows, labels)


def _rows(item: Item, room: float) -> tuple[Row, ...]:
    texts = [(item.title, _SIZE, True), (item.about, _SMALL, False)]
    for part in item.parts:
        texts += [(part.title, _SMALL, True), (part.about, _SMALL, False)]
    laid = [(clean(text), size, bold) for text, size, bold in texts if text]
    return tuple((row, size, bold) for text, size, bold in laid for row in letters.wrapped(text, room, size, bold))


def _high(rows: Sequence[Row]) -> float:
    return fsum(size * _LEAD for _, size, _ in rows)


# ---- SVG


def svg(drawn: Picture) -> str:
    """The whole SVG file."""
    scene, layout = drawn.scene, drawn.layout
    wide, high, scale = _sheet(drawn)
    inner = wide - 2 * _MARGIN
    head, top = _head(scene, inner)
    left = (inner - layout.wide) / 2
    body = [*head, f'<g transform="translate({left:.1f} {top:.1f})">']
    pairs = list(zip(scene.ties, layout.ways, drawn.labels, strict=True))
    for tie, way, _ in pairs:
        body.append(_line(tie, way.points))
    for _, way, label in pairs:
        if way.label is not None:
            body += _label(way.label, label)
    body += [_box(item, layout.boxes[item.id], drawn.rows[item.id]) for item in scene.items]
    body += ["</g>", *_foot(scene, inner, top + layout.high + _BELOW)[0]]
    bundled = (sentence for item in scene.items for part in item.parts for sentence in part.sentences)
    sentences = (*bundled, *(tie.sentence for tie in scene.ties), *scene.notes)
    told = " ".join(dict.fromkeys(clean(text) for text in sentences))
    text = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{-_MARGIN:g} {-_MARGIN:g} {wide:.1f} {high:.1f}" '
        f'width="{wide * scale:.1f}pt" height="{high * scale:.1f}pt" role="img" aria-labelledby="title desc" '
        f'font-family="{letters.FACE}" fill="#000">\n'
        f'<title id="title">{html_safe(scene.title)}</title>\n<desc id="desc">{html_safe(told)}</desc>\n'
        f'<rect x="{-_MARGIN:g}" y="{-_MARGIN:g}" width="{wide:.1f}" height="{high:.1f}" fill="#fff"/>\n'
        + "\n".join(body)
        + "\n</svg>\n"
    )
    return text.encode("ascii", "xmlcharrefreplace").decode("ascii")


def _sheet(drawn: Picture) -> tuple[float, float, float]:
    """Width and height of all, in units, and how many points a unit has on paper, upright or across."""
    inner = max(drawn.layout.wide, _LEAST_WIDE)
    bottom = _foot(drawn.scene, inner, _head(drawn.scene, inner)[1] + drawn.layout.high + _BELOW)[1]
    wide, high = inner + 2 * _MARGIN, bottom + 2 * _MARGIN
    scale = max(min(_NARROW / wide, _LONG / high), min(_LONG / wide, _NARROW / high))
    return wide, high, min(1.2, scale)


def _head(scene: Scene, wide: float) -> tuple[list[str], float]:
    """The title, and where the picture begins."""
    head, top = _paragraphs([(clean(scene.title), _TITLE, True)], wide, 0.0)
    return head, top + 12.0


def _text(x: float, y: float, row: Row) -> str:
    """A row of text, x and y being its top left corner."""
    text, size, bold = row
    return pieces.text(x, y + 0.93 * size, clean(text), "", size, bold)


def _paragraphs(texts: Sequence[Row], wide: float, top: float) -> tuple[list[str], float]:
    """Texts below one another, wrapped; and where they end."""
    body = []
    for text, size, bold in texts:
        for row in letters.wrapped(text, wide, size, bold):
            body.append(_text(0.0, top, (row, size, bold)))
            top += size * _LEAD
    return body, top


def _stroke(tie: Tie) -> tuple[float, str]:
    if tie.chance is None:
        return _OTHERS[tie.kind]
    bands = _ALIKE if tie.kind == "alike" else _BANDS
    shown = round(100 * tie.chance)  # as a reader sees it
    return next((thick, dash) for least, thick, dash in bands if shown >= 100 * least)


def _path(way: str, thick: float, dash: str) -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="{way}" fill="none" stroke="#000" stroke-width="{thick:g}"{dashed}/>'


def _line(tie: Tie, points: Sequence[tuple[float, float]]) -> str:
    """A line, with a head at its end unless it runs both ways."""
    thick, dash = _stroke(tie)
    x, y = points[-1]
    headed = tie.kind != "alike"
    way = f"M{points[0][0]:.1f} {points[0][1]:.1f}"
    stop = x - _HEAD + 1.0 if headed else x
    for at in range(0, len(points) - 2, 2):
        start, bend, after = points[at : at + 3]
        if start != bend:
            half = (start[0] + bend[0]) / 2
            way += f"C{half:.1f} {start[1]:.1f} {half:.1f} {bend[1]:.1f} {bend[0]:.1f} {bend[1]:.1f}"
        way += f"L{stop if at + 3 == len(points) else after[0]:.1f} {after[1]:.1f}"
    body = _path(way, thick, dash)
    if headed:
        half = 2.5 + thick / 2
        body += f'<path d="M{x:.1f} {y:.1f}l{-_HEAD:g} {-half:.2f}v{2 * half:.2f}z"/>'
        body += _path(f"M{x - 2 * _HEAD:.1f} {y:.1f}H{stop:.1f}", thick, "") if dash else ""
    return f"<g><title>{html_safe(tie.sentence)}</title>{body}</g>"


def _label(place: Rect, rows: Sequence[str]) -> list[str]:
    lead = _SMALL * _LEAD
    white = pieces.rect(place.x, place.y, place.wide, place.high, 'fill="#fff"')
    return [white, *(_text(place.x + 2.5, place.y + n * lead, (row, _SMALL, False)) for n, row in enumerate(rows))]


def _box(item: Item, place: Rect, rows: Sequence[Row]) -> str:
    y = place.y + (place.high - _high(rows)) / 2
    body = []
    for row in rows:
        body.append(_text(place.x + _PAD, y, row))
        y += row[1] * _LEAD
    said = html_safe(f"{item.kind} {item.id}")
    return f"<g><title>{said}</title>{_frame(item.kind, place, item.main)}{''.join(body)}</g>"


def _frame(kind: str, place: Rect, main: bool) -> str:
    """The outline by kind; thick for what was asked for."""
    thick = 3.0 if main else 1.0
    ink = f'stroke="#000" stroke-width="{thick:g}"'
    x, y, wide, high = place.x, place.y, place.wide, place.high

    def rect(inset: float, more: str) -> str:
        return pieces.rect(x, y, wide, high, more, inset)

    if kind == "complaint":
        cut = min(8.0, high / 3)
        way = (
            f"M{x + cut:.1f} {y:.1f}h{wide - 2 * cut:.1f}l{cut:g} {cut:g}v{high - 2 * cut:.1f}l{-cut:g} {cut:g}"
            f"h{2 * cut - wide:.1f}l{-cut:g} {-cut:g}v{2 * cut - high:.1f}z"
        )
        return f'<path d="{way}" fill="#fff" {ink}/>'
    if kind == "check":
        return rect(0.0, f'rx="{min(11.0, high / 2):g}" fill="#fff" {ink}')
    if kind == "remedy":
        inner = 'fill="none" stroke="#000" stroke-width="0.8"'
        return rect(0.0, f'fill="#fff" {ink}') + rect(3.0 if main else 2.5, inner)
    return rect(0.0, f'fill="#fff" {ink}')


# ---- legend and notes


def _foot(scene: Scene, wide: float, top: float) -> tuple[list[str], float]:
    """Legend and notes, and where they end."""
    body = [f'<path d="M0 {top - 8:.1f}H{wide:.1f}" stroke="#000" stroke-width="0.8"/>']
    x = 0.0
    for symbol, text in _legend(scene):
        need = 36.0 + letters.width(text, _SMALL)
        if x and x + need > wide:
            x, top = 0.0, top + 15.0
        said = _text(34.0, 0.5, (text, _SMALL, False))
        body.append(f'<g transform="translate({x:.1f} {top:.1f})">{symbol}{said}</g>')
        x += need + 16.0
    rows = [(clean(note), _SMALL, False) for note in scene.notes]
    more, bottom = _paragraphs(rows, wide, top + 19.0)
    return body + more, bottom


def _legend(scene: Scene) -> list[tuple[str, str]]:
    """(symbol of 30 by 12, text) for what is in the picture."""
    kinds = dict.fromkeys(item.kind for item in scene.items)
    found = [(_frame(kind, Rect(1.0, 0.0, 26.0, 12.0), False), text) for kind, text in _BOXES.items() if kind in kinds]
    if any(item.main for item in scene.items):
        found.append((_frame("cause", Rect(2.0, 1.0, 24.0, 10.0), True), "thick frame: what was asked for"))
    plain = {tie.kind for tie in scene.ties if tie.chance is None}
    for stroke in dict.fromkeys(_OTHERS.values()):
        said = "; ".join(text for kind, text in _LINES.items() if kind in plain and _OTHERS.get(kind) == stroke)
        if said:
            found.append((_path("M0 6h28", *stroke), said))
    strong = {tie.kind for tie in scene.ties if tie.chance is not None}
    used = {_stroke(tie) for tie in scene.ties if tie.chance is not None}
    of = "" if "alike" in strong else " of the time"
    said = " or ".join(text for kind, text in _LINES.items() if kind in strong)
    bands = _ALIKE if "alike" in strong else _BANDS
    for n, (least, thick, dash) in enumerate(bands):
        if (thick, dash) not in used:
            continue
        if n:
            below = f"{100 * bands[n - 1][0]:.0f} %{of}"
            much = f"{100 * least:.0f} to {below}" if least else f"under {below}"
        else:
            much = f"{100 * least:.0f} %{of} or more"
        found.append((_path("M0 6h28", thick, dash), f"{said}: {much}"))
    return found


# ---- DOT


def quote(text: str) -> str:
    """A string of the DOT language: text on one line, in quotes."""
    return '"' + clean(text).replace("\\", "\\\\").replace('"', '\\"') + '"'


def _two(first: str, second: str) -> str:
    """Two rows in one string of DOT."""
    return f"{quote(first)[:-1]}\\n{quote(second)[1:]}"


def dot(scene: Scene) -> str:
    """The whole DOT file: the same boxes, lines and words; places are left to the program that reads it."""
    rows = [f"digraph {quote(scene.id or scene.kind)} {{"]
    rows.append(f"  graph [rankdir=LR, labelloc=t, ranksep=1.2, label={quote(scene.title)}];")
    rows += ['  node [fontname="Helvetica", fontsize=10];', '  edge [fontname="Helvetica", fontsize=9];']
    for item in scene.items:
        main = ", penwidth=3" if item.main else ""
        rows.append(f"  {quote(item.id)} [label={_two(item.title, item.about)}, {_DOT[item.kind]}{main}];")
    if scene.kind != "overview":
        for layer in sorted({item.layer for item in scene.items}):
            names = "; ".join(quote(item.id) for item in scene.items if item.layer == layer)
            rows.append(f"  {{ rank=same; {names}; }}")
    for tie in scene.ties:
        thick, dash = _stroke(tie)
        style = "dotted" if dash.startswith("1.5") else "dashed" if dash else "solid"
        both = ", dir=none" if tie.kind == "alike" else ""
        rows.append(
            f"  {quote(tie.source)} -> {quote(tie.target)} "
            f"[label={quote(tie.words)}, penwidth={thick:g}, style={style}{both}];"
        )
    return "\n".join([*rows, "}", ""])
