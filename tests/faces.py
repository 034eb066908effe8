"""Faces that stand in for the one that a drawing asks for, and whether the texts of an SVG stay in their places in them.

Advance widths in thousandths of the size, of the printable ASCII letters from blank to tilde, rounded up, read from the
tables of the free faces themselves: DejaVu Sans 2.37, Bold and Book, as wide as the widest faces that stand in for
Arial; DejaVu Serif 2.37, Bold and Book; a fixed-pitch letter is 602 (DejaVu Sans Mono).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from xml.etree import ElementTree

SANS = (
    318,
    401,
    460,
    838,
    637,
    951,
    780,
    275,
    391,
    391,
    500,
    838,
    318,
    361,
    318,
    337,
    637,
    637,
    637,
    637,
    637,
    637,
    637,
    637,
    637,
    637,
    337,
    337,
    838,
    838,
    838,
    531,
    1000,
    685,
    687,
    699,
    771,
    632,
    576,
    775,
    752,
    295,
    295,
    656,
    558,
    863,
    749,
    788,
    604,
    788,
    695,
    635,
    611,
    732,
    685,
    989,
    686,
    611,
    686,
    391,
    337,
    391,
    838,
    500,
    500,
    613,
    635,
    550,
    635,
    616,
    353,
    635,
    634,
    278,
    278,
    580,
    278,
    975,
    634,
    612,
    635,
    635,
    412,
    521,
    393,
    634,
    592,
    818,
    592,
    592,
    525,
    637,
    337,
    637,
    838,
)
SANS_BOLD = (
    349,
    457,
    521,
    838,
    696,
    1002,
    873,
    307,
    458,
    458,
    523,
    838,
    380,
    416,
    380,
    366,
    696,
    696,
    696,
    696,
    696,
    696,
    696,
    696,
    696,
    696,
    400,
    400,
    838,
    838,
    838,
    581,
    1000,
    774,
    763,
    734,
    831,
    684,
    684,
    821,
    837,
    373,
    373,
    775,
    638,
    996,
    837,
    851,
    733,
    851,
    771,
    721,
    683,
    813,
    774,
    1104,
    771,
    725,
    726,
    458,
    366,
    458,
    838,
    500,
    500,
    675,
    716,
    593,
    716,
    679,
    436,
    716,
    712,
    343,
    343,
    666,
    343,
    1042,
    712,
    688,
    716,
    716,
    494,
    596,
    479,
    712,
    652,
    924,
    646,
    652,
    583,
    712,
    366,
    712,
    838,
)
SERIF = (
    318,
    402,
    460,
    838,
    637,
    951,
    891,
    275,
    391,
    391,
    500,
    838,
    318,
    338,
    318,
    337,
    637,
    637,
    637,
    637,
    637,
    637,
    637,
    637,
    637,
    637,
    337,
    337,
    838,
    838,
    838,
    537,
    1000,
    723,
    735,
    766,
    802,
    730,
    694,
    799,
    873,
    396,
    401,
    748,
    665,
    1024,
    875,
    820,
    673,
    820,
    753,
    686,
    667,
    843,
    723,
    1028,
    712,
    661,
    695,
    391,
    337,
    391,
    838,
    500,
    500,
    597,
    641,
    561,
    641,
    592,
    371,
    641,
    645,
    320,
    311,
    606,
    320,
    949,
    645,
    603,
    641,
    641,
    479,
    514,
    402,
    645,
    565,
    856,
    564,
    565,
    527,
    637,
    337,
    637,
    838,
)
SERIF_BOLD = (
    349,
    439,
    521,
    838,
    696,
    951,
    903,
    307,
    474,
    474,
    523,
    838,
    349,
    416,
    349,
    366,
    696,
    696,
    696,
    696,
    696,
    696,
    696,
    696,
    696,
    696,
    370,
    370,
    838,
    838,
    838,
    586,
    1000,
    776,
    846,
    796,
    868,
    763,
    710,
    855,
    945,
    468,
    474,
    870,
    704,
    1107,
    915,
    872,
    752,
    872,
    832,
    723,
    745,
    873,
    776,
    1124,
    776,
    714,
    730,
    474,
    366,
    474,
    838,
    500,
    500,
    648,
    700,
    609,
    700,
    637,
    431,
    700,
    728,
    380,
    362,
    693,
    380,
    1059,
    728,
    667,
    700,
    700,
    527,
    563,
    462,
    728,
    582,
    861,
    597,
    582,
    568,
    644,
    364,
    644,
    838,
)
FACES = {
    "wide": (SANS, SANS_BOLD),
    "serif": (SERIF, SERIF_BOLD),
    "fixed": ((602,) * 95, (602,) * 95),
}
SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Box:
    """A rectangle by its edges, with what stands in it."""

    left: float
    top: float
    right: float
    bottom: float
    text: str = ""

    def holds(self, x: float, y: float) -> bool:
        return self.left <= x <= self.right and self.top <= y <= self.bottom

    def meets(self, other: Box) -> bool:
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )


def width(text: str, size: float, face: str, bold: bool) -> float:
    """How wide a text comes out in a face; a letter that is not ASCII as wide as "e"."""
    table = FACES[face][bold]
    letters = (text.replace("\N{NO-BREAK SPACE}", " ")).translate({0x2026: "..."})
    return (
        sum(table[ord(letter) - 32] if " " <= letter <= "~" else table[ord("e") - 32] for letter in letters)
        / 1000
        * size
    )


def texts(root: ElementTree.Element, face: str) -> Iterator[Box]:
    """Every row of text of a drawing as it comes out in a face, from its capitals to its line; moved groups included."""

    def inside(element: ElementTree.Element, across: float, down: float) -> Iterator[Box]:
        moved = element.get("transform", "")
        if moved.startswith("translate("):
            dx, dy = (float(part) for part in moved.removeprefix("translate(").rstrip(")").split())
            across, down = across + dx, down + dy
        if element.tag == f"{SVG}text" and element.text:
            x, y, size = (float(element.attrib[name]) for name in ("x", "y", "font-size"))
            fitted = element.get("textLength")
            wide = float(fitted) if fitted else width(element.text, size, face, element.get("font-weight") == "700")
            x -= {"middle": wide / 2, "end": wide}.get(element.get("text-anchor", ""), 0.0)
            yield Box(across + x, down + y - 0.72 * size, across + x + wide, down + y, element.text)
        for child in element:
            yield from inside(child, across, down)

    yield from inside(root, 0.0, 0.0)


def frames(root: ElementTree.Element) -> Iterator[Box]:
    """Every outline of a drawing: rectangles and closed paths of straight lines that are stroked and not filled."""

    def inside(element: ElementTree.Element, across: float, down: float) -> Iterator[Box]:
        moved = element.get("transform", "")
        if moved.startswith("translate("):
            dx, dy = (float(part) for part in moved.removeprefix("translate(").rstrip(")").split())
            across, down = across + dx, down + dy
        if element.tag == f"{SVG}rect" and element.get("stroke"):
            x, y, wide, high = (float(element.attrib[name]) for name in ("x", "y", "width", "height"))
            yield Box(across + x, down + y, across + x + wide, down + y + high)
        for child in element:
            yield from inside(child, across, down)

    yield from inside(root, 0.0, 0.0)


def misfits(drawing: str, face: str) -> list[str]:
    """Texts that leave the sheet or the innermost frame in which they begin, run into a frame beside them, or into one
    another."""
    root = ElementTree.fromstring(drawing)
    left, top, wide, high = (float(part) for part in root.attrib["viewBox"].split())
    sheet = Box(left, top, left + wide, top + high)
    rows, boxes = list(texts(root, face)), [sheet, *frames(root)]
    found = []
    for at, row in enumerate(rows):
        middle = (row.top + row.bottom) / 2
        home = min(
            (box for box in boxes if box.holds(row.left, middle)),
            key=lambda box: (box.right - box.left) * (box.bottom - box.top),
            default=sheet,
        )
        if row.right > home.right or row.top < home.top or row.bottom > home.bottom:
            found.append(f"leaves its frame by {row.right - home.right:.1f}: {row.text}")
        beside = [box for box in boxes if box is not sheet and not box.holds(row.left, middle) and box.meets(row)]
        if beside:
            found.append(f"runs into a frame: {row.text}")
        found += [f"runs into {other.text!r}: {row.text}" for other in rows[:at] if other.meets(row)]
    return found
