"""`hertzwright knowledge draw`: what is in a picture, the picture itself, DOT, JSON, words and files."""

from __future__ import annotations

import itertools
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import faces
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hertzwright.cli.app import main
from hertzwright.cli.files import store
from hertzwright.cli.record.service_record import clean
from hertzwright.cli.terminal import letters
from hertzwright.cli.terminal.letters import width
from hertzwright.cli.workshop import checkout
from hertzwright.cli.workshop import picture as pictures
from hertzwright.cli.workshop.bundle import MANY, bundled
from hertzwright.cli.workshop.neighbours import Scene, scene
from hertzwright.cli.workshop.picture import Picture, dot, picture, quote, svg
from hertzwright.engine import load_knowledge
from hertzwright.engine.review.layers import Link, Rect
from hertzwright.engine.review.likeness import areas_alike

from small_knowledge import FILES, write
from test_drawing import faults
from tiers import some

KNOWLEDGE = load_knowledge()
SVG = "{http://www.w3.org/2000/svg}"
EVERY = [*KNOWLEDGE.causes, *KNOWLEDGE.checks, *KNOWLEDGE.remedies, *KNOWLEDGE.complaints, *KNOWLEDGE.catalogue.areas]
ONE_OF_EACH = ["throttle_rod_long", "frequency_no_load", "set_rod_length", "sags_under_load", "linkage", None]


@pytest.fixture(autouse=True)
def _loaded_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The shipped knowledge is not read again for every command; one test runs in a process of its own."""
    here, read = str(checkout.find().folder), store.knowledge
    monkeypatch.setattr(store, "knowledge", lambda path: KNOWLEDGE if path == here else read(path))


def drawn(name: str | None, least: float | None = None) -> Picture:
    return picture(scene(KNOWLEDGE, name, least))


def as_given(name: str | None) -> Picture:
    """The picture as the command gives it, with many causes bundled."""
    return picture(bundled(KNOWLEDGE, scene(KNOWLEDGE, name)))


def out_of(capsys: pytest.CaptureFixture[str], *words: str, status: int = 0) -> tuple[str, str]:
    assert main(["knowledge", "draw", *words]) == status
    found = capsys.readouterr()
    return found.out, found.err


# ---- geometry of every picture of the shipped knowledge


def test_no_picture_has_anything_on_anything() -> None:
    """Nor more crossings than where every cause shows in two checks alike: as many as there are pairs of them."""
    for name in [*EVERY[::5], *KNOWLEDGE.complaints, *KNOWLEDGE.catalogue.areas, None]:
        made = drawn(name)
        causes = sum(item.kind == "cause" for item in made.scene.items)
        assert made.layout.crossings <= max(25, causes * (causes - 1) / 2), name
        links = [Link(tie.source, tie.target) for tie in made.scene.ties]
        assert faults(made.layout, links) == [], name
        for item in made.scene.items:
            box, rows = made.layout.boxes[item.id], made.rows[item.id]
            assert all(width(*row) <= box.wide - 2 * 5 for row in rows), item
            assert sum(1.2 * size for _, size, _ in rows) <= box.high - 2 * 5, item
        for way, said in zip(made.layout.ways, made.labels, strict=True):
            assert way.label is not None
            assert all(width(row, 8.5) <= way.label.wide - 4 for row in said)
            assert len(said) * 8.5 * 1.2 <= way.label.high


def test_causes_left_checks_middle_complaints_and_remedies_right() -> None:
    for name in ONE_OF_EACH[:-1]:
        made = drawn(name)
        at: dict[str, set[float]] = {}
        for item in made.scene.items:
            at.setdefault(item.kind, set()).add(made.layout.boxes[item.id].x)
        assert max(at["cause"]) < min(at["check"])
        assert max(at["check"]) < min(at.get("complaint", set()) | at.get("remedy", set()))


NAMES = [*KNOWLEDGE.complaints, *KNOWLEDGE.catalogue.areas, None]


@pytest.mark.parametrize("name", some(NAMES, 3))
def test_no_text_leaves_its_box_or_its_line_in_any_face(name: str | None) -> None:
    """Boxes, labels, legend and notes, in a wide face, with serifs, and of fixed pitch (see `faces`)."""
    text = svg(as_given(name))
    for face in faces.FACES:
        assert faces.misfits(text, face) == [], face


@pytest.mark.parametrize("name", [*list(KNOWLEDGE.causes)[::9], *list(KNOWLEDGE.checks)[::9], "frequency_no_load"])
def test_so_it_is_with_causes_and_checks(name: str) -> None:
    text = svg(as_given(name))
    for face in faces.FACES:
        assert faces.misfits(text, face) == [], face


def test_without_slack_texts_would_leave_their_boxes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(letters, "_needed", lambda wide, count, size, bold: 0.88 * wide / 1000 * size)
    letters.wrapped.cache_clear()
    try:
        text = svg(as_given("governor"))
    finally:
        letters.wrapped.cache_clear()
    assert len(faces.misfits(text, "wide")) > 3


@pytest.mark.parametrize("name", some(NAMES, 3))
def test_arrowheads_keep_clear_of_labels_and_legend(name: str | None) -> None:
    """Also where the label comes out as wide as it may: a head begins well behind it."""
    made = as_given(name)
    for way, said in zip(made.layout.ways, made.labels, strict=True):
        if way.label is None or name is None:
            continue
        tip = way.points[-1][0]
        for face in faces.FACES:
            wide = max(faces.width(row, 8.5, face, False) for row in said)
            assert way.label.x + 2.5 + wide <= tip - 2 * 7.0, said


@pytest.mark.parametrize("name", [*KNOWLEDGE.complaints, "frequency_no_load", "swing_no_load"])
def test_many_causes_are_bundled_by_area_and_none_is_lost(name: str) -> None:
    whole, made = scene(KNOWLEDGE, name), bundled(KNOWLEDGE, scene(KNOWLEDGE, name))
    causes = [item for item in whole.items if item.kind == "cause"]
    if len(causes) < MANY:
        assert [item for item in made.items if item.kind == "cause"] == causes
        return
    areas = [item for item in made.items if item.kind == "area"]
    assert {item.id for item in areas} == {KNOWLEDGE.causes[item.id].area for item in causes}
    told = " ".join(f"{part.title} {part.about}" for item in areas for part in item.parts).lower()
    assert all(item.title.lower() in told for item in causes)
    sentences = {sentence for item in made.items for part in item.parts for sentence in part.sentences}
    gone = {tie.sentence for tie in whole.ties} - {tie.sentence for tie in made.ties}
    assert gone <= sentences, "who cannot see it is told the same"
    for item in areas:
        for tie in (each for each in made.ties if each.source == item.id):
            own = [
                each.chance or 0.0
                for each in whole.ties
                if each.target == tie.target and KNOWLEDGE.causes.get(each.source)
                and KNOWLEDGE.causes[each.source].area == item.id
            ]  # fmt: skip
            assert tie.chance == max(own)
    assert len(made.ties) < len(whole.ties)
    assert picture(made).points >= 5.5, "readable on paper"


# ---- what is in a picture


def test_a_cause_is_drawn_with_all_that_it_shows_in() -> None:
    for name, cause in list(KNOWLEDGE.causes.items())[::6]:
        found = scene(KNOWLEDGE, name, 0.0)
        shows = {tie.target: tie for tie in found.ties if tie.kind == "shows"}
        assert shows.keys() == cause.shows.keys()
        for check, tie in shows.items():
            assert tie.chance == pytest.approx(1.0 - cause.shows[check][0])
            for outcome, word in cause.words[check].items():
                assert f"{word} {outcome}".replace("_", " ") in tie.words or not word.replace("_", "").isalpha()
        assert {tie.target for tie in found.ties if tie.kind == "cures"} == set(cause.remedies)
        assert found.left_out == 0


@pytest.mark.parametrize("name", ["sags_under_load", "floats_high_no_load", "surges_light_load_only"])
def test_a_complaint_is_drawn_with_its_strongest_causes(name: str) -> None:
    said = KNOWLEDGE.complaints[name].says
    parents = {cause for check in said for cause in KNOWLEDGE.checks[check].parents}
    found, whole = scene(KNOWLEDGE, name), scene(KNOWLEDGE, name, 0.0)
    causes = [item.id for item in found.items if item.kind == "cause"]
    assert 5 <= len(causes) <= 16
    assert len(causes) + found.left_out == len(parents)
    assert {item.id for item in whole.items if item.kind == "cause"} == parents
    assert any(f"{found.left_out} weaker causes left out" in note for note in found.notes)
    assert [item.id for item in found.items if item.main] == [name]
    if len(said) == 1:
        ((check, outcomes),) = said.items()
        chance = {
            cause: sum(KNOWLEDGE.likelihood(check, outcome, frozenset({cause})) for outcome in outcomes)
            for cause in parents
        }
        assert min(chance[cause] for cause in causes) >= max(chance[other] for other in parents - set(causes))
    assert {tie.source for tie in found.ties if tie.kind == "says"} == set(said) & {i.id for i in found.items}


def test_the_areas_are_tied_where_they_look_alike() -> None:
    found = scene(KNOWLEDGE, None)
    every = areas_alike(KNOWLEDGE)
    assert [item.id for item in found.items] == list(KNOWLEDGE.catalogue.areas)
    for area in KNOWLEDGE.catalogue.areas:
        near = [each for each in every if area in (each.first, each.second)][:2]
        tied = {frozenset((tie.source, tie.target)) for tie in found.ties}
        assert {frozenset((each.first, each.second)) for each in near} <= tied
        count = sum(cause.area == area for cause in KNOWLEDGE.causes.values())
        assert f"{count} causes" in next(item.about for item in found.items if item.id == area)
    assert len(found.ties) + found.left_out == len(every) == 28
    assert len(scene(KNOWLEDGE, None, 0.0).ties) == 28
    assert {tie.words for tie in found.ties} == {f"{100 * tie.chance:.0f} %" for tie in found.ties if tie.chance}


# ---- SVG


def colours(text: str) -> set[str]:
    return set(re.findall(r'(?:fill|stroke)="([^"]*)"', text))


@pytest.mark.parametrize("name", ONE_OF_EACH)
def test_the_picture_can_be_read_printed_and_heard(name: str | None) -> None:
    made = drawn(name)
    text = svg(made)
    root = ElementTree.fromstring(text.encode("utf-8"))
    assert root.find(f"{SVG}title") is not None
    desc = root.findtext(f"{SVG}desc") or ""
    assert root.get("aria-labelledby") == "title desc"
    assert all(tie.sentence in desc for tie in made.scene.ties)
    shown = "".join(each.text or "" for each in root.iter(f"{SVG}text")).replace(" ", "")
    for words in [*(tie.words for tie in made.scene.ties), *(item.title for item in made.scene.items)]:
        assert words.replace(" ", "").replace("\xa0", "") in shown.replace("\xa0", "")
    assert colours(text) <= {"#000", "#fff", "none"}
    assert text.isascii()
    assert not re.search(r"<(?:script|style|image|a|foreignObject)\b|href|url\(", text)
    left, top, wide, high = map(float, (root.get("viewBox") or "").split())
    for each in root.findall(f"{SVG}text"):
        assert left <= float(each.get("x", "nan")) <= left + wide
        assert top <= float(each.get("y", "nan")) <= top + high


def test_strength_is_told_by_thickness_dashes_and_words() -> None:
    """The same four ways of drawing wherever the chance is the same, each in the legend; a stronger line is never
    thinner."""
    made = drawn("flyweights_sticking", 0.0)
    text = svg(made)
    rows = re.findall(
        r'<path d="M[^"]*" fill="none" stroke="#000" stroke-width="([\d.]+)"(?: stroke-dasharray="([^"]*)")?', text
    )
    styles = {pictures._stroke(tie) for tie in made.scene.ties if tie.chance is not None}
    assert {(f"{thick:g}", dash) for thick, dash in styles} <= set(rows)
    by_chance = sorted((tie.chance, pictures._stroke(tie)) for tie in made.scene.ties if tie.chance is not None)
    assert all(one[1][0] <= two[1][0] for one, two in itertools.pairwise(by_chance))
    assert len(styles) == len({thick for thick, _ in styles}) == 4
    for much in ("80 % of the time or more", "45 to 80 % of the time", "20 to 45 % of the time", "under 20 %"):
        assert much in text


def test_kinds_are_told_by_shape() -> None:
    shapes = {
        kind: pictures._frame(kind, Rect(0, 0, 100, 30), False) for kind in ("cause", "check", "complaint", "remedy")
    }
    assert len(set(shapes.values())) == 4
    assert pictures._frame("cause", Rect(0, 0, 100, 30), True) != shapes["cause"]


def test_the_same_bytes_in_another_process() -> None:
    code = "import sys; from hertzwright.cli.app import main; main(['knowledge', 'draw', *sys.argv[1:]])"
    here = Path(__file__).parent.parent / "knowledge"
    words = ["linkage", "--knowledge", str(here)]
    run = subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, check=True, env={**os.environ, "PYTHONHASHSEED": "7"}
    )
    assert run.stdout.decode() == svg(picture(scene(load_knowledge(here), "linkage")))


HARD = 'Rod <b>&amp; "long" \\\\ é 長い'


@pytest.fixture
def hard(tmp_path: Path) -> Path:
    text = FILES["areas/linkage.yaml"].replace("title: Rod too long", f"title: '{HARD}'")
    return write(tmp_path / "hard", {"areas/linkage.yaml": text})


def test_text_is_escaped(hard: Path) -> None:
    made = picture(scene(load_knowledge(hard), "rod_long"))
    root = ElementTree.fromstring(svg(made).encode("utf-8"))
    assert HARD in (root.findtext(f"{SVG}title") or "")
    assert root.find(f".//{SVG}b") is None
    box = next(each for each in root.iter(f"{SVG}g") if each.findtext(f"{SVG}title") == "cause rod_long")
    rows = box.findall(f"{SVG}text")
    assert " ".join(row.text or "" for row in rows).startswith(HARD)
    assert all(width(row.text or "", float(row.get("font-size", "nan"))) <= 150 for row in rows)


# ---- DOT


def strings(text: str) -> list[str]:
    """The quoted strings of a DOT text, read by the rules of the language: only \\" is an escape."""
    return [found.replace('\\"', '"') for found in re.findall(r'"((?:[^"\\]|\\.)*)"', text, re.DOTALL)]


@settings(max_examples=80)
@given(st.text())
def test_a_dot_string_comes_back_whole(text: str) -> None:
    (found,) = strings(quote(text))
    assert found.replace("\\\\", "\\") == clean(text)
    assert "\n" not in quote(text)


@pytest.mark.parametrize("name", ONE_OF_EACH)
def test_dot_says_the_same_as_the_picture(name: str | None) -> None:
    found = scene(KNOWLEDGE, name)
    text = dot(found)
    rest = re.sub(r'"(?:[^"\\]|\\.)*"', "S", text)
    assert rest.count("->") == len(found.ties)
    assert rest.count("{") == rest.count("}")
    assert {tie.words for tie in found.ties} <= set(strings(text))
    assert dot(scene(KNOWLEDGE, name)) == text


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_a_general_library_reads_the_dot(hard: Path) -> None:
    pydot = pytest.importorskip("pydot")
    scenes: list[Scene] = [scene(KNOWLEDGE, name) for name in ("set_rod_length", None)]
    scenes.append(scene(load_knowledge(hard), "rod_long"))
    for found in scenes:
        (graph,) = pydot.graph_from_dot_data(dot(found))
        edges = [(edge.get_source().strip('"'), edge.get_destination().strip('"')) for edge in graph.get_edges()]
        assert sorted(edges) == sorted((tie.source, tie.target) for tie in found.ties)
        nodes = {node.get_name().strip('"'): node for node in graph.get_nodes()}
        for item in found.items:
            assert strings(nodes[item.id].get("label"))[0].startswith(clean(item.title).replace("\\", "\\\\"))


# ---- the command


def test_json_holds_nodes_edges_and_places(capsys: pytest.CaptureFixture[str]) -> None:
    out, _ = out_of(capsys, "throttle_rod_long", "--json")
    found = json.loads(out)
    made = drawn("throttle_rod_long")
    assert found["version"] == 1
    assert out == json.dumps(found, sort_keys=True, indent=2) + "\n"
    assert [node["id"] for node in found["nodes"]] == [item.id for item in made.scene.items]
    for node in found["nodes"]:
        assert node["x"] + node["width"] <= found["width"] + 0.2
        assert node["y"] + node["height"] <= found["height"] + 0.2
    places = {node["id"]: node for node in found["nodes"]}
    for edge in found["edges"]:
        assert edge["points"][-1][0] == pytest.approx(places[edge["target"]]["x"], abs=0.11)
        assert edge["words"]


def test_plain_is_one_fact_a_line(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    out, _ = out_of(capsys, "throttle_rod_long", "--plain")
    assert max(map(len, out.splitlines())) <= 40
    assert "\x1b" not in out
    flat = " ".join(out.split())
    assert "Governor-to-throttle rod too long shows in Gap at the wide-open stop: almost always none." in flat
    assert all(tie.sentence in flat for tie in scene(KNOWLEDGE, "throttle_rod_long").ties)


def test_a_file_is_not_written_over_unless_told(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "rod.svg"
    out, err = out_of(capsys, "throttle_rod_long", "--out", str(path))
    assert (out, err) == ("", f"Written: {path}\n")
    assert path.read_text(encoding="utf-8") == svg(drawn("throttle_rod_long"))
    _, err = out_of(capsys, "linkage", "--out", str(path), status=2)
    assert "is there already" in err
    assert path.read_text(encoding="utf-8") == svg(drawn("throttle_rod_long"))
    out, _ = out_of(capsys, "linkage", "--dot", "--json", "--out", str(path), "--force")
    assert path.read_text(encoding="utf-8") == dot(scene(KNOWLEDGE, "linkage"))
    assert json.loads(out)["id"] == "linkage"
    _, err = out_of(capsys, "linkage", "--out", str(tmp_path / "no" / "where.svg"), status=2)
    assert "cannot be written" in err
    assert [each.name for each in tmp_path.iterdir()] == ["rod.svg"]


def test_standard_output_without_a_file(capsys: pytest.CaptureFixture[str]) -> None:
    assert out_of(capsys, "set_rod_length")[0] == svg(drawn("set_rod_length"))
    assert out_of(capsys, "set_rod_length", "--out", "-", "--dot")[0] == dot(scene(KNOWLEDGE, "set_rod_length"))
    assert out_of(capsys)[0] == svg(drawn(None))


def test_letters_too_small_for_paper_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert drawn("choke_stuck_closed", 0.0).points < 5.5 <= drawn("throttle_rod_long").points
    _, err = out_of(capsys, "choke_stuck_closed", "--least", "0")
    assert "points high; give a larger --least" in err
    assert out_of(capsys, "throttle_rod_long")[1] == ""


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["throttle_rod_longg"], 'did you mean "throttle_rod_long"'),
        (["\x1b[2J"], "\\x1b[2J"),
        (["usually"], '"usually" is a word, which has no picture'),
        (["linkage", "--least", "101"], "expected a percentage from 0 to 100"),
        (["linkage", "--least", "nan"], "expected a percentage from 0 to 100"),
        (["linkage", "--json", "--dot"], "cannot both go to standard output"),
        (["linkage", "--plain", "--out", "-"], "cannot both go to standard output"),
        (["linkage", "--knowledge", "nowhere"], "nowhere: no such folder"),
    ],
)
def test_wrong_use_ends_with_two(capsys: pytest.CaptureFixture[str], words: list[str], told: str) -> None:
    try:
        status = main(["knowledge", "draw", *words])
    except SystemExit as stop:
        status = int(str(stop.code))
    found = capsys.readouterr()
    assert status == 2
    assert told in found.err
    assert found.out == ""


def test_a_retired_item_is_not_drawn_and_not_tied(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    retired = '    retired: {since: "2026-01-01", reason: "Two in one.", replaced_by: rod_short}\n    sources: [common practice]\n  rod_short:'
    text = FILES["areas/linkage.yaml"].replace("    sources: [common practice]\n  rod_short:", retired)
    text = text.replace("cures: {rod_long: usually, rod_short: usually}", "cures: {rod_short: usually}")
    folder = write(tmp_path / "retired", {"areas/linkage.yaml": text, "cases/linkage.yaml": None, "units.yaml": None})
    _, err = out_of(capsys, "rod_long", "--knowledge", str(folder), status=2)
    assert '"rod_long" is retired since 2026-01-01: Two in one.; draw rod_short instead' in err
    out, _ = out_of(capsys, "stop_gap", "--json", "--least", "0", "--knowledge", str(folder))
    assert [node["id"] for node in json.loads(out)["nodes"] if node["kind"] == "cause"] == ["rod_short"]
