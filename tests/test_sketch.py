"""Drawings of parts: rows that fit the smallest screen, a picture of the same rows, and a drawing for every step that
names what is drawn. The xml module is the outside opinion on what is well formed; that a drawing's figure is right is held
against the check that reads it."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from itertools import combinations
from pathlib import Path

import faces
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hertzwright.cli.terminal.sketch import ACROSS, CAPITALS, DOWN, SIZE, sketched, texts
from hertzwright.engine import load_knowledge
from hertzwright.engine.compiler import drawing_of
from hertzwright.engine.compiler.drawing import HIGH, WIDE, Drawing
from hertzwright.engine.compiler.reader import read_folder

from small_knowledge import FILES, write

KNOWLEDGE = load_knowledge()
EVERY = tuple(KNOWLEDGE.drawings.values())
SVG = "{http://www.w3.org/2000/svg}"
WITHOUT = {
    "regulator_fixed_trial": "it is the swing that stops",
    "fuel_sample": "fuel is looked at in a glass, nothing at the bowl is set",
    "vacuum_needle": "the needle of a gauge",
    "gas_pressure_no_load": "a stopped engine",
    "start_habit": "how somebody starts it, nothing is looked at",
    "intake_air_warmth": "warmth in front of the air cleaner",
    "stall_moment": "when it stops",
    "clear_flooding": "how it is started",
    "ready_for_cold": "oil, fuel and battery besides the choke",
    "renew_fuel": "fuel, not the bowl",
    "set_governor_belt": "the belt",
    "restore_fuel_flow": "where the fuel stops, from tank to carburetor",
    "set_surge_screw": "screws and dashpots differ too much from set to set",
}
DRAWN = re.compile(
    r"governor (spring|arm)|\brod\b|linkage|throttle|needle|choke|booster|float|\bbowl|air cleaner|weights|\bstops?\b|"
    r"manifold|intake joint|speed adjuster|sensitivity"
)


def svg_of(drawing: Drawing) -> ElementTree.Element:
    return ElementTree.fromstring(sketched(drawing.art, drawing.title, drawing.in_words))


@pytest.mark.parametrize("drawing", EVERY, ids=lambda drawing: drawing.id)
def test_a_drawing_fits_the_smallest_screen_in_plain_letters(drawing: Drawing) -> None:
    assert 3 <= len(drawing.art) <= HIGH
    assert drawing.wide <= WIDE
    assert all(row.isascii() and row.isprintable() and row == row.rstrip() for row in drawing.art)
    assert drawing.rows(40) == drawing.rows(drawing.wide) == drawing.art
    narrow = drawing.rows(drawing.wide - 1)
    assert " ".join(narrow) == " ".join(drawing.in_words.split())
    assert all(len(row) < drawing.wide for row in narrow)


@pytest.mark.parametrize("drawing", EVERY, ids=lambda drawing: drawing.id)
def test_both_forms_name_every_part(drawing: Drawing) -> None:
    pieces = [piece.text or "" for piece in svg_of(drawing).iter(f"{SVG}text")]
    for part in drawing.parts:
        assert any(part in row for row in drawing.art), part
        assert any(part in piece for piece in pieces), part
    assert sorted(word.text for word in texts(drawing.art)) == sorted(pieces)


@pytest.mark.parametrize("drawing", EVERY, ids=lambda drawing: drawing.id)
def test_no_text_of_a_picture_lies_on_another_in_any_face(drawing: Drawing) -> None:
    found = svg_of(drawing)
    left, top, wide, high = (float(each) for each in found.attrib["viewBox"].split())
    boxes = []
    for piece in found.iter(f"{SVG}text"):
        size, bold = float(piece.attrib["font-size"]), "font-weight" in piece.attrib
        assert size == (CAPITALS if bold else SIZE)
        room = max(faces.width(piece.text or "", size, face, bold) for face in faces.FACES)
        x, y = float(piece.attrib["x"]), float(piece.attrib["y"])
        x -= {"end": room, "middle": room / 2}.get(piece.attrib.get("text-anchor", ""), 0.0)
        assert left <= x, piece.text
        assert x + room <= left + wide, piece.text
        assert top <= y - size, piece.text
        assert y <= top + high, piece.text
        boxes.append((x, y - 0.8 * size, x + room, y + 0.2 * size, piece.text))
    for one, other in combinations(boxes, 2):
        assert one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1], (one, other)


@pytest.mark.parametrize("drawing", EVERY, ids=lambda drawing: drawing.id)
def test_a_picture_is_read_aloud_and_never_in_colour(drawing: Drawing) -> None:
    found = svg_of(drawing)
    assert found.attrib["role"] == "img"
    assert drawing.title in found.attrib["aria-label"]
    assert found.findtext(f"{SVG}title") == drawing.title
    assert found.findtext(f"{SVG}desc") == " ".join(drawing.in_words.split())
    body = sketched(drawing.art, drawing.title)
    assert set(re.findall(r'(?:fill|stroke)="([^"]*)"', body)) <= {"#000", "#fff", "#bbb", "none"}
    assert body == sketched(drawing.art, drawing.title)


def test_every_step_that_names_a_drawn_part_has_a_drawing_or_a_reason_not_to() -> None:
    told = {name: f"{each.title} {each.ask}" for name, each in KNOWLEDGE.checks.items()}
    told |= {name: f"{each.title} {each.brief}" for name, each in KNOWLEDGE.remedies.items()}
    without = {name for name, text in told.items() if DRAWN.search(text.lower()) and not drawing_of(KNOWLEDGE, name)}
    assert without == set(WITHOUT)


def test_a_drawing_is_found_by_its_own_id_and_by_what_it_is_shown_with() -> None:
    rod = KNOWLEDGE.drawings["rod_length"]
    for name in ("rod_length", "wide_open_stop_gap", "set_rod_length", "throttle_rod_long"):
        assert drawing_of(KNOWLEDGE, name) is rod
    assert drawing_of(KNOWLEDGE, "second_meter") is None
    assert drawing_of(KNOWLEDGE, "nothing_of_this_name") is None


def test_the_gap_drawn_is_the_gap_that_the_check_calls_right() -> None:
    """1/32 in, common practice; the drawing says it, so the bands of the check must hold it."""
    reading = KNOWLEDGE.checks["wide_open_stop_gap"].reading
    assert reading is not None
    assert any("1/32 in" in row for row in KNOWLEDGE.drawings["rod_length"].art)
    assert [band.outcomes for band in reading.bands if band.low <= 1 / 32 < band.high] == [("right",)]


def test_a_line_joins_what_it_touches() -> None:
    body = sketched(["o--|", "   |", "===#"], "Joints")
    assert "M5 10H35" in body  # from the middle of the pivot to that of the upright line
    assert "M35 10" not in body.replace("M5 10H35", "")
    assert 'x="30.0" y="40.0" width="10.0"' in body


def test_a_low_line_beside_a_slanting_one_is_its_slope_and_a_valley_is_level() -> None:
    assert "M0 0L30 20" in sketched(["\\__"], "A plate")
    assert "M0 0L30 20" in sketched(["\\o_"], "A plate with its pivot")
    assert "M0 20L30 0" in sketched(["__/"], "A plate the other way")
    valley = sketched(["\\_/"], "A spring")
    assert "M0 0L10 20" in valley
    assert "M10 20H20" in valley


def test_text_begins_where_it_does_in_the_rows_or_ends_there_before_a_line() -> None:
    body = sketched(["rod  lever |", "GAP: right"], "Words")
    assert '<text x="1.0" y="15.0" font-size="14">rod</text>' in body
    assert '<text x="99.0" y="15.0" text-anchor="end" font-size="14">lever</text>' in body
    assert '<text x="1.0" y="35.0" font-size="12" font-weight="700">GAP:</text>' in body
    assert '<text x="51.0" y="35.0" font-size="14">right</text>' in body


@settings(max_examples=60)
@given(st.lists(st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=40), max_size=HIGH), st.text())
def test_whatever_stands_in_the_rows_the_picture_is_well_formed(rows: list[str], title: str) -> None:
    found = ElementTree.fromstring(sketched(rows, title, title))
    wide = max(map(len, rows), default=0) * ACROSS + 12
    assert found.attrib["viewBox"] == f"-6 -6 {wide} {len(rows) * DOWN + 12}"


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("| 60 |  meter", "| 60 |  meter" + "-" * 30, "K090: row 2 has 43 columns, more than 38"),
        ("| 60 |  meter", "| 6\u00b0 |  meter", 'K090: row 2 holds "\u00b0" (help: use the letters and signs of ASCII)'),
        ("      '----'\n", "      '----'\n" + "      |\n" * 18, "K090: 21 rows, more than 18"),
        ("parts: [meter]", "parts: [needle]", 'K090: the part "needle" is not named in the drawing'),
        ("of: [frequency]", "of: [frequenzy]", 'K031: no check or remedy named "frequenzy" (help: did you mean "frequency"?)'),
        ("of: [frequency]", "of: [stop_gap]", 'K091: "stop_gap" has the drawing "stop" already'),
        ("art: |2\n      .", "arts: |2\n      .", "K020"),
    ],
)  # fmt: skip
def test_a_drawing_that_cannot_be_shown_is_told_where_it_stands(
    old: str, new: str, expected: str, tmp_path: Path
) -> None:
    text = FILES["drawings.yaml"]
    assert old in text
    readout = read_folder(write(tmp_path, {"drawings.yaml": text.replace(old, new, 1)}))
    assert any(expected in str(problem) for problem in readout.problems), [str(each) for each in readout.problems]
    assert readout.catalogue is None


def test_art_is_no_prose_and_stays_as_it_is_drawn(tmp_path: Path) -> None:
    text = (
        FILES["drawings.yaml"].replace("| 60 |  meter", "| 60.  A meter").replace("parts: [meter]", "parts: [A meter]")
    )
    readout = read_folder(write(tmp_path, {"drawings.yaml": text}))
    assert readout.problems == ()
    assert readout.catalogue is not None
    assert readout.catalogue.drawings["meter"].art == (".----.", "| 60.  A meter", "'----'")
    from hertzwright.cli.workshop.layout import tidied

    assert tidied("drawings", "drawings.yaml", text) is not None
    assert "      | 60.  A meter\n" in (tidied("drawings", "drawings.yaml", text) or "")


def test_knowledge_without_drawings_has_none(tmp_path: Path) -> None:
    readout = read_folder(write(tmp_path, {"drawings.yaml": None, "units.yaml": None}))
    assert readout.problems == ()
    assert readout.catalogue is not None
    assert not readout.catalogue.drawings
