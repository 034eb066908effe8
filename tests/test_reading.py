"""Typed answers: what is understood, what is refused, and that nothing else can happen."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hertzwright.engine import AnswerError, load_knowledge
from hertzwright.engine.compiler.features import read_features
from hertzwright.engine.readings.reading import read_answer

KNOWLEDGE = load_knowledge()
DEFAULTS = KNOWLEDGE.features()


def read(check: str, text: str, **features: object):  # type: ignore[no-untyped-def]
    return read_answer(KNOWLEDGE.checks[check], text, KNOWLEDGE.features(features))


@pytest.mark.parametrize(
    ("check", "text", "value", "outcome"),
    [
        ("frequency_no_load", "61.5", 61.5, "right"),
        ("frequency_no_load", "61.5 Hz", 61.5, "right"),
        ("frequency_no_load", "61.5hz", 61.5, "right"),
        ("frequency_no_load", "61,5 Hz", 61.5, "right"),
        ("frequency_no_load", " 61.5  Hz ", 61.5, "right"),
        ("frequency_no_load", "1845 rpm", 61.5, "right"),
        ("frequency_no_load", "1845 r/min", 61.5, "right"),
        ("frequency_no_load", "64.1 Hz", 64.1, "high"),
        ("frequency_no_load", "58", 58.0, "low"),
        ("wide_open_stop_gap", "1/32 in", 1 / 32, "right"),
        ("wide_open_stop_gap", '1/32"', 1 / 32, "right"),
        ("wide_open_stop_gap", "0.8 mm", 0.8 / 25.4, "right"),
        ("wide_open_stop_gap", "0.000 in", 0.0, "none"),
        ("wide_open_stop_gap", "3 mm", 3 / 25.4, "wide"),
        ("idle_needle_turns", "1 1/4 turns", 1.25, "right"),
        ("idle_needle_turns", "1 1/4", 1.25, "right"),
        ("idle_needle_turns", "1-1/4 turns", 1.25, "right"),
        ("idle_needle_turns", "1/2 turn", 0.5, "few"),
        ("idle_needle_turns", "3 turns", 3.0, "many"),
        ("manifold_vacuum_no_load", "12 inHg", 12.0, "low"),
        ("manifold_vacuum_no_load", "-41 kPa", 41 / 3.38639, "low"),
        ("manifold_vacuum_no_load", "\u221241 kPa", 41 / 3.38639, "low"),
        ("manifold_vacuum_no_load", "18 in Hg", 18.0, "normal"),
        ("voltage_no_load", "238 V", 238.0, "right"),
    ],
)
def test_a_reading_is_understood(check: str, text: str, value: float, outcome: str) -> None:
    answer = read(check, text)
    assert answer.values == pytest.approx((value,), rel=1e-9)
    assert answer.outcomes == (outcome,)
    assert answer.sure


@pytest.mark.parametrize(
    ("check", "text", "told"),
    [
        ("frequency_no_load", "6l.5", "61.5"),
        ("frequency_no_load", "600 Hz", "600 Hz"),
        ("frequency_no_load", "NaN", "NaN"),
        ("frequency_no_load", "nan Hz", "nan Hz"),
        ("frequency_no_load", "inf", "inf"),
        ("frequency_no_load", "1/0", "1/0"),
        ("frequency_no_load", "-61.5", "-61.5"),
        ("frequency_no_load", "61.5 V", "61.5 V"),
        ("frequency_no_load", "1e3", "1e3"),
        ("frequency_no_load", "quite fast", "quite fast"),
        ("frequency_no_load", "61.5 Hz wide", "61.5 Hz wide"),
        ("frequency_no_load", "64.1 Hz right", "64.1 Hz right"),
        ("wide_open_stop_gap", "0.8 m", "0.8 m"),
        ("idle_needle_turns", "100 turns", "100 turns"),
        ("linkage_feel", "looose-ish", "looose-ish"),
        ("linkage_feel", "61.5", "61.5"),
    ],
)
def test_nonsense_is_refused_with_the_value_and_what_was_expected(check: str, text: str, told: str) -> None:
    with pytest.raises(AnswerError) as refused:
        read(check, text)
    message = str(refused.value)
    assert told in message
    assert "expected" in message or "did you mean" in message or "it means" in message


def test_rpm_goes_by_the_poles() -> None:
    assert read("frequency_no_load", "3600 rpm", poles=2).values == pytest.approx((60.0,))
    assert read("frequency_no_load", "1800 rpm", poles=4).values == pytest.approx((60.0,))
    assert read("frequency_no_load", "1200 rpm", poles=6).values == pytest.approx((60.0,))


def test_bands_go_by_the_rating_of_the_set() -> None:
    assert read("frequency_no_load", "51.2 Hz", hertz=50).outcomes == ("right",)
    assert read("frequency_no_load", "51.2 Hz", hertz=60).outcomes == ("low",)
    assert read("voltage_no_load", "120 V", volts=120).outcomes == ("right",)
    assert read("voltage_no_load", "120 V", volts=240).outcomes == ("low",)


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("118, 121 psi", (118.0, 121.0)),
        ("118 psi, 121 psi", (118.0, 121.0)),
        ("118; 121", (118.0, 121.0)),
        ("118 and 121 psi", (118.0, 121.0)),
        ("118/121 psi", (118.0, 121.0)),
        ("118", (118.0,)),
    ],
)
def test_several_values_are_read_as_a_list(text: str, values: tuple[float, ...]) -> None:
    assert read("compression", text).values == pytest.approx(values)


def test_cylinders_and_legs_that_differ_are_uneven() -> None:
    assert read("compression", "120, 122 psi").outcomes == ("good",)
    assert read("compression", "120, 60 psi").outcomes == ("uneven",)
    assert read("compression", "55, 52 psi").outcomes == ("low",)
    assert read("leg_currents", "30, 31 A").outcomes == ("balanced",)
    assert read("leg_currents", "35, 12 A").outcomes == ("unbalanced",)
    assert read("leg_currents", "52, 31 A").outcomes == ("over_rating",)


def test_a_reading_that_fits_several_outcomes_keeps_them_all_until_one_is_named() -> None:
    assert set(read("swing_no_load", "1.2 Hz").outcomes) == {"slow_swing", "fast_jiggle", "erratic"}
    named = read("swing_no_load", "1.2 Hz slow swing")
    assert named.outcomes == ("slow_swing",)
    assert named.values == pytest.approx((1.2,))


@pytest.mark.parametrize("text", ["unknown", "don't know", "Unknown", "skip", "", "  ", "?"])
def test_not_knowing_is_an_answer_without_outcomes(text: str) -> None:
    answer = read("linkage_feel", text)
    assert answer.outcomes == ()
    assert answer.values == ()


@pytest.mark.parametrize(("text", "outcome"), [("binds?", "binds"), ("binds ?", "binds"), ("64.1 Hz?", "high")])
def test_a_question_mark_says_not_sure(text: str, outcome: str) -> None:
    answer = read("frequency_no_load" if "Hz" in text else "linkage_feel", text)
    assert answer.outcomes == (outcome,)
    assert not answer.sure


@pytest.mark.parametrize("text", ["free", "FREE", "Free "])
def test_an_outcome_is_found_in_any_case(text: str) -> None:
    assert read("linkage_feel", text).outcomes == ("free",)


@pytest.mark.parametrize("text", ["fr", "bind", "fre?"])
def test_the_start_of_an_outcome_is_proposed_and_not_taken(text: str) -> None:
    with pytest.raises(AnswerError, match="did you mean"):
        read("linkage_feel", text)


def test_an_outcome_is_written_with_blanks_or_hyphens() -> None:
    for text in ("slow swing", "slow-swing", "slow_swing", "Slow Swing"):
        assert read("swing_no_load", text).outcomes == ("slow_swing",)


def test_a_start_that_fits_several_outcomes_is_refused() -> None:
    with pytest.raises(AnswerError, match="steady"):
        read("swing_no_load", "s")


TYPED = st.one_of(
    st.text(max_size=40),
    st.text(alphabet="0123456789.,/-+ ?lOHhzrpmkPainVA\u2212\"'", max_size=20),
    st.from_regex(r"-?\d{1,400}([.,]\d+)?( ?(Hz|rpm|in|mm|kPa|psi|A))?", fullmatch=True),
    st.from_regex(r"\d{1,3}( \d{1,3}/\d{1,3})?([,;/] ?\d+)* ?(psi|A|turns)?\??", fullmatch=True),
)


@given(st.sampled_from(sorted(KNOWLEDGE.checks)), TYPED)
def test_any_text_is_understood_or_refused_and_never_anything_else(check: str, text: str) -> None:
    known = KNOWLEDGE.checks[check]
    try:
        answer = read_answer(known, text, DEFAULTS)
    except AnswerError as refused:
        assert str(refused).isprintable()
    else:
        assert {*answer.outcomes} <= {outcome.id for outcome in known.outcomes}
        # What is kept is understood the same way again.
        if answer.outcomes:
            assert read_answer(known, answer.text, DEFAULTS).outcomes == answer.outcomes or answer.values


@given(st.dictionaries(st.sampled_from([*DEFAULTS, "colour", ""]), st.one_of(TYPED, st.integers(), st.floats())))
def test_any_features_are_understood_or_refused_and_never_anything_else(given_features: dict[str, object]) -> None:
    try:
        features = read_features(given_features, KNOWLEDGE.catalogue.features)
    except AnswerError as refused:
        assert str(refused).isprintable()
    else:
        assert set(features) == set(DEFAULTS)


@given(st.floats(20.0, 90.0))
def test_every_frequency_in_range_falls_into_a_band(value: float) -> None:
    for name in ("frequency_no_load", "frequency_full_load", "frequency_half_load"):
        assert read(name, f"{value:.3f} Hz").outcomes


@pytest.mark.parametrize(
    ("check", "typed", "kept"),
    [("choke_heater_resistance", "10000", "10000 ohm"), ("frequency_no_load", "64.123", "64.12 Hz")],
)
def test_a_reading_as_shown_can_be_typed_again(check: str, typed: str, kept: str) -> None:
    read = read_answer(KNOWLEDGE.checks[check], typed, DEFAULTS)
    assert read.text == kept
    assert read_answer(KNOWLEDGE.checks[check], read.text, DEFAULTS).outcomes == read.outcomes


def test_rated_amps_of_a_three_phase_set_are_those_of_its_kva_at_0_8() -> None:
    """I = S / (sqrt(3) V), S = P / 0.8: three-phase sets are rated at power factor 0.8 lagging (nameplate practice;
    ISO 8528-1 rates in kVA so). A 60 kW, 75 kVA set at 120/208 V carries 208 A a leg (handbook table, from memory)."""
    from hertzwright.engine.readings.reading import rated_amps

    assert rated_amps({"rated_kw": 60.0, "volts": 208.0, "phases": 3}) == pytest.approx(208.2, abs=0.1)
    assert rated_amps({"rated_kw": 10.0, "volts": 416.0, "phases": 3}) == pytest.approx(17.35, abs=0.01)
    assert rated_amps({"rated_kw": 9.0, "volts": 240.0, "phases": 1}) == pytest.approx(37.5)


@pytest.mark.parametrize("name", [name for name, check in KNOWLEDGE.checks.items() if check.reading is not None])
def test_the_example_of_a_reading_is_a_reading_of_that_check(name: str) -> None:
    """61.5 Hz is no swing: every example that a refusal gives can be typed as it stands."""
    check = KNOWLEDGE.checks[name]
    with pytest.raises(AnswerError) as refused:
        read(name, "qqqq")
    examples = str(refused.value).partition("a reading such as ")[2].partition(", one for each")[0]
    for text in examples.replace(" or ", ", ").split(", "):
        if check.reading is not None and check.reading.per:
            text = ", ".join([text] * 2)
        try:
            answer = read(name, text, cylinders=2)
        except AnswerError as error:
            pytest.fail(f"{name}: {text}: {error}")
        assert answer.values


def test_a_swing_is_not_told_by_the_example_of_a_speed() -> None:
    with pytest.raises(AnswerError, match=r"0\.6 Hz or 18 rpm"):
        read("swing_no_load", "qqqq")
