"""`hertzwright knowledge show`: everything about one thing on one page, and what tells two things apart."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.workshop import page, pair, uses
from hertzwright.engine import load_knowledge

import small_knowledge as small
from tiers import some

SHIPPED = load_knowledge()
EVERY = [(kind, next(iter(table))) for kind, table in page.tables(SHIPPED).items()]


def shown(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["knowledge", "show", *words]) == 0
    return " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(("kind", "name"), EVERY)
@pytest.mark.parametrize("columns", some(["40", "100"], 2))
def test_everything_has_a_page(
    kind: str, name: str, columns: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert main(["knowledge", "show", name]) == 0
    out = capsys.readouterr().out
    assert name in out
    assert "Used by" in out
    assert max(len(row) for row in out.splitlines()) <= int(columns)
    assert main(["knowledge", "show", name, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    # One id may belong to two kinds: the feature booster and the area booster.
    assert kind in [found["kind"], *(each["kind"] for each in found.get("also", ()))]
    assert (found["id"], found["version"]) == (name, 1)
    assert found["title"]


def test_a_cause_says_how_common_how_it_shows_what_cures_it_and_who_uses_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    out = shown(capsys, "throttle_rod_long")
    cause = SHIPPED.causes["throttle_rod_long"]
    for check in cause.shows:
        assert SHIPPED.checks[check].title in out
    for remedy in cause.remedies:
        assert remedy in out
    assert "Told apart from" in out
    assert "Cases: " in out
    assert "Order rules of its remedies: " in out
    assert "Complaints that speak of it: " in out


def test_a_cause_where_its_features_matter(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = str(small.write(tmp_path))
    out = shown(capsys, "rod_long", "--knowledge", folder)
    assert "Where cylinders at least 2: almost never (0.03)" in out
    assert "Only on sets with: booster vacuum" in shown(capsys, "speed_high", "--knowledge", folder)


def test_the_drawing_of_an_item_is_shown_and_named(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    folder = str(small.write(tmp_path))
    assert "rod =====o | # stop O #" in shown(capsys, "stop_gap", "--knowledge", folder)
    own = shown(capsys, "stop", "--knowledge", folder)
    assert "=====o" in own
    assert "Checks: stop_gap" in own
    plain = shown(capsys, "stop", "--plain", "--knowledge", folder)
    assert "=====o" not in plain
    assert "The lever stands a hair from the stop." in plain
    assert json.loads(shown(capsys, "set_rod", "--json", "--knowledge", folder)).get("drawing") is None
    assert json.loads(shown(capsys, "stop_gap", "--json", "--knowledge", folder))["drawing"] == "stop"


def test_who_uses_what_in_the_small_knowledge(tmp_path: Path) -> None:
    known = load_knowledge(small.write(tmp_path))
    assert uses.uses(known, "cause", "rod_long") == {
        "Checks": ("frequency", "stop_gap"),
        "Complaints that speak of it": ("floats_high",),
        "Remedies": ("set_rod",),
        "Order rules of its remedies": ("rod_before_speed",),
        "Cases": ("rod_after_overhaul",),
    }
    assert uses.uses(known, "check", "frequency") == {
        "Causes": ("rod_long", "rod_short", "speed_high"),
        "Complaints": ("floats_high",),
        "Remedies that prove with it": ("set_rod", "set_speed"),
        "Proof run": ("proof_run",),
        "Steps of setting": ("speed_right",),
        "Tolerances": ("default",),
        "Cases": ("rod_after_overhaul",),
    }
    assert uses.uses(known, "remedy", "set_speed") == {
        "Order rules": ("rod_before_speed",),
        "Remedies that it follows": ("set_rod",),
    }
    assert uses.uses(known, "remedy", "set_rod")["Steps of setting"] == ("rod_matched",)
    assert uses.uses(known, "setting", "rod_matched") == {"Steps that need it": ("speed_right",)}
    assert uses.uses(known, "setting", "speed_right") == {"Steps that disturb it": ("rod_matched",)}
    assert uses.uses(known, "caution", "hot_parts") == {"Remedies": ("set_speed",)}
    assert uses.uses(known, "state", "warm") == {
        "Checks": ("frequency",),
        "Remedies": ("set_speed",),
        "Steps of setting": ("speed_right",),
        "Proof run": ("proof_run",),
    }
    assert uses.uses(known, "source", "shop_notes") == {"Checks": ("frequency",)}
    assert uses.uses(known, "feature", "booster") == {"Causes that only exist with it": ("speed_high",)}
    assert uses.uses(known, "feature", "hertz") == {"Readings scaled by it": ("frequency",)}
    assert set(uses.uses(known, "word", "sometimes")) == {"Causes"}
    assert uses.uses(known, "area", "linkage")["Remedies"] == ("set_rod", "set_speed")


def test_a_word_says_how_often_it_is_used(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = shown(capsys, "usually", "--knowledge", str(small.write(tmp_path)))
    assert "Stands for: 0.75" in out
    assert "Causes: rod_long (2), rod_short, speed_high" in out
    assert "Remedies: set_rod (2), set_speed" in out


def test_what_is_retired_shows_its_replacement(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = small.FILES["areas/linkage.yaml"]
    text = text.replace("cures: {rod_long: usually, rod_short: usually}", "cures: {rod_long: usually}").replace(
        "    sources: [from memory]\n",
        '    sources: [from memory]\n    retired:\n      since: "2026-01-02"\n      reason: Told by the gap.\n'
        "      replaced_by: rod_long\n",
    )
    folder = str(small.write(tmp_path, {"areas/linkage.yaml": text}))
    out = shown(capsys, "rod_short", "--knowledge", folder)
    assert "RETIRED since 2026-01-02: Told by the gap. Use rod_long (Rod too long)." in out
    assert "In place of: rod_short" in shown(capsys, "rod_long", "--knowledge", folder)
    assert "RETIRED." in shown(capsys, "rod_long", "rod_short", "--knowledge", folder)


# ---- pairs


def test_two_causes_by_power_in_plain_words(capsys: pytest.CaptureFixture[str]) -> None:
    out = shown(capsys, "throttle_rod_long", "speed_set_high")
    assert "Gap at the wide-open stop (wide_open_stop_gap): strong" in out
    none = SHIPPED.checks["wide_open_stop_gap"].index("none")
    here, there = (
        SHIPPED.distribution("wide_open_stop_gap", frozenset({cause}))[none]
        for cause in ("throttle_rod_long", "speed_set_high")
    )
    assert f"none: A {100 * here:.0f} %, B {100 * there:.0f} %" in out
    assert "Most for its minutes: " in out
    assert "A alone: " in out
    assert "B alone: " in out


def test_remedies_shared_are_named(capsys: pytest.CaptureFixture[str]) -> None:
    out = shown(capsys, "throttle_rod_long", "throttle_rod_short")
    assert "They exclude one another" in out
    assert "Both: " in out
    assert "set_rod_length" in out
    assert main(["knowledge", "show", "throttle_rod_long", "throttle_rod_short", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["remedies_shared"] == ["set_rod_length"]
    assert found["kinds"] == ["cause", "cause"]
    power = [each["nats_where_first"] + each["nats_where_second"] for each in found["apart_by"]]
    assert power == sorted(power, reverse=True)
    best = max(
        found["apart_by"],
        key=lambda each: (each["nats_where_first"] + each["nats_where_second"]) / max(each["minutes"], 0.5),
    )
    assert found["most_for_its_minutes"] == best["check"]


def test_two_checks(capsys: pytest.CaptureFixture[str]) -> None:
    out = shown(capsys, "frequency_half_load", "frequency_full_load")
    assert "look at the same thing again" in out
    assert "Both" in out
    out = shown(capsys, "frequency_no_load", "frequency_spread")
    assert "is worked out from" in out
    out = shown(capsys, "wide_open_stop_gap", "compression")
    assert "A only" in out
    assert "B only" in out


def test_other_pairs(capsys: pytest.CaptureFixture[str]) -> None:
    for words in (("throttle_rod_long", "wide_open_stop_gap"), ("wide_open_stop_gap", "throttle_rod_long")):
        assert "with nothing wrong" in shown(capsys, *words)
    assert "does not bear on" in shown(capsys, "throttle_rod_long", "choke_heater_supply")
    assert "set_rod_length cures throttle_rod_long" in shown(capsys, "throttle_rod_long", "set_rod_length")
    assert "set_sensitivity does not cure throttle_rod_long" in shown(capsys, "throttle_rod_long", "set_sensitivity")
    assert "What each cures" in shown(capsys, "set_rod_length", "set_no_load_speed")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("throttle_rod_long", "hunts_no_load"), "what can be compared is two causes, two checks"),
        (("throttle_rod_long", "throttle_rod_long"), "throttle_rod_long twice"),
        (("throttle_rod_long", "speed_set_hig"), 'did you mean "speed_set_high"?'),
        (("zzzzzz",), "nothing in the knowledge has the id"),
        (("bad\x1b[2J",), "nothing in the knowledge has the id"),
    ],
)
def test_what_cannot_be_shown_is_told(words: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["knowledge", "show", *words]) == 2
    err = capsys.readouterr().err
    assert said in err
    assert "\x1b" not in err


def test_factors_in_words() -> None:
    assert pair.factor(float("inf")) == "over 1000 to 1"
    assert pair.factor(2.34) == "2.3 to 1"
    assert pair.factor(28.2) == "28 to 1"


@pytest.mark.parametrize("columns", ["40", "100"])
@pytest.mark.parametrize(
    "words",
    [("throttle_rod_long", "speed_set_high"), ("frequency_no_load", "compression"), ("free_linkage", "warm_up")],
)
def test_pairs_keep_the_width(
    words: tuple[str, str], columns: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    for form in ([], ["--plain"]):
        assert main(["knowledge", "show", *words, *form]) == 0
        out = capsys.readouterr().out
        assert max(len(row) for row in out.splitlines()) <= int(columns)
