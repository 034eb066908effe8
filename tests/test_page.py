"""One screen for one step: every page at 40 columns and 24 rows, limits in figures, and nothing dangerous left out.

The size: 24 rows are those of a VT100 (DEC, VT100 User Guide, 1978: 24 lines of 80 columns); 40 columns are those of a
telephone held upright, and of its own test `test_wrapping`.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hertzwright.cli.files import journal
from hertzwright.cli.files.export import without_names
from hertzwright.cli.jobsite import remedy_prompt, safety, step_page, view
from hertzwright.cli.jobsite.safety import Cautioned
from hertzwright.cli.jobsite.session import Session
from hertzwright.cli.record.collection import collect
from hertzwright.cli.terminal import Choice, Line, Page, Row, Screen, chance_word, percent
from hertzwright.cli.terminal.page import MORE, Leaf, lay_out
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.problems import columns, printable
from hertzwright.engine.readings import reading

from technician import Script, by_list, desk_of


@dataclass(frozen=True, slots=True)
class Phone:
    """A face of 40 columns and 24 rows."""

    width: int = 40
    height: int | None = 24
    drawn: bool = True
    blocks: bool = True


FACES = (Phone(), Phone(drawn=False, blocks=False))
SHARE = re.compile(r"\b(full|three-quarter|half|quarter) load\b", re.IGNORECASE)
STARTS = re.compile(r"^Start[ ,]|, (?:and |then )?start\b(?! lead)")
SETS: tuple[dict[str, object], ...] = (
    {},
    {"booster": "none", "hertz": 50, "cylinders": 1},
    {"phases": 3, "volts": 480, "fuel": "natural_gas", "cylinders": 6},
)


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def session_of(job: Job) -> Session:
    return Session(job, None, Screen(True, io.StringIO(), 40), Script(by_list([])))


# In the quick tier every set once, the usual one in both faces.
ON_EACH = pytest.mark.parametrize(
    ("face", "features"),
    [
        pytest.param(face, features, id=f"{look} {name}", marks=pytest.mark.nightly if place and look == turn else ())
        for look, face in zip(("drawn", "plain"), FACES, strict=True)
        for place, (name, features, turn) in enumerate(
            zip(("usual", "50 Hz", "three phases"), SETS, ("", "plain", "drawn"), strict=True)
        )
    ],
)


def told(leaf: Leaf) -> str:
    return " ".join(" ".join(row.text for row in leaf.rows).replace("\u258c ", "").split())


def fits(leaves: tuple[Leaf, ...], face: Phone) -> None:
    """Each leaf stands on the screen with its input line; what is asked is on the last."""
    assert face.height is not None
    for leaf in leaves:
        assert len(leaf.rows) + 1 <= face.height, told(leaf)
        assert all(columns(row.text) <= face.width for row in leaf.rows), told(leaf)
        assert (leaf.rows[-1].text == MORE) != leaf.last


@ON_EACH
def test_every_check_is_one_leaf_of_24_rows(face: Phone, features: dict[str, object], knowledge: Knowledge) -> None:
    """With cautions that were read before: what somebody said, the set-up, the question and all its answers."""
    job = Job(knowledge, features)
    session = session_of(job)
    said = (Row("Kept: Idle needle, turns from its seat,"), Row("1.5 turns (right)."))
    for check in job.checks.values():
        cautions = [*dict.fromkeys((*check.cautions, *knowledge.catalogue.states[check.state].cautions))]
        known = Cautioned(tuple(cautions), (), safety.titles(session, cautions))
        lead = "Leads: governor spring tired, stretched or of the wrong rate, 12 %. If low points to something long."
        page = step_page.of_check(session, check, step_page.head(session, check, None, "Next: "), known, lead)
        leaves = lay_out(page, face, said)
        fits(leaves, face)
        assert len(leaves) == 1, check.id
        text = told(leaves[0])
        assert view.with_load(session, check.ask) in text
        offered = [outcome for outcome in check.outcomes if check.offers(outcome.id, job.features)]
        assert all(outcome.id.replace("_", " ") in text for outcome in offered)
        if check.reading is not None:
            assert f"Right: {page.limits}" in text
            figures = re.findall(r"-?[\d.]+", page.limits)  # such as somebody could read and type
            assert reading.read_answer(check, f"{figures[0]} {check.reading.unit}", job.features).values, check.id
        new = tuple((each.title, each.text) for each in (knowledge.catalogue.cautions[name] for name in cautions))
        leaves = lay_out(step_page.of_check(session, check, page, Cautioned((), new), lead), face)
        fits(leaves, face)
        whole = " ".join(map(told, leaves))
        assert all(sentence in whole for _, body in new for sentence in body.splitlines())
        assert view.with_load(session, check.ask) in told(leaves[-1])


@ON_EACH
def test_every_remedy_pages_and_its_question_stands_whole(
    face: Phone, features: dict[str, object], knowledge: Knowledge
) -> None:
    job = Job(knowledge, features)
    session = session_of(job)
    for remedy in knowledge.remedies.values():
        page = step_page.of_remedy(
            session, remedy, step_page.head(session, remedy, None), Cautioned(), "Leads: x, 9 %."
        )
        leaves = lay_out(page, face)
        fits(leaves, face)
        whole = " ".join(map(told, leaves)).replace(MORE + " ", "")
        assert all(" ".join(step.split()) in whole or len(leaves) > 1 for step in view.remedy_steps(session, remedy))
        assert "carried out" in told(leaves[-1])
        assert not any(leaf.answers for leaf in leaves[:-1])  # nothing is carried out before all of it was shown


@pytest.mark.parametrize("face", FACES, ids=["drawn", "plain"])
def test_every_other_prompt_of_the_knowledge_fits(face: Phone, knowledge: Knowledge) -> None:
    """The list of complaints, whether each is gone, what is back on, and the cautions of the job."""
    cautions = tuple((each.title, each.text) for each in knowledge.catalogue.cautions.values())
    rows = [f"{each.title}: {each.brief}" for each in knowledge.complaints.values()]
    pages = [
        Page("set", ("0 min", "safe"), "Before you begin", (Line(safety.LOCAL_CODES),), cautions,
             choices=(Choice("y", "understood, go on"), Choice("n", "not now, stop"))),
        Page(choices=tuple(Choice(str(at), row) for at, row in enumerate(rows, 1))),
    ]  # fmt: skip
    gone = ("gone", "still there", "not sure", "not tried yet", "explained: no fault of the set")
    for said in knowledge.complaints.values():
        asked = f"{said.title}: is that trouble gone? {said.gone_when}".rstrip()
        pages.append(Page(question=asked, choices=tuple(Choice(str(at), text) for at, text in enumerate(gone, 1))))
    for fitting in knowledge.catalogue.fittings.values():
        pages.append(Page(title="Before this, back on", body=(Line(fitting.question, "", "  - "),), question="So?"))
    for page in pages:
        leaves = lay_out(page, face)
        fits(leaves, face)
        assert leaves[-1].answers == {choice.key for choice in page.choices}
        whole = " ".join(map(told, leaves))
        assert all(" ".join(choice.text.split()) in whole for choice in page.choices)


text = st.text(alphabet=st.sampled_from("ab ,.\u8a9e\u0301\x1b"), max_size=90)


@given(
    st.lists(text, max_size=12), st.lists(text, max_size=30), text, text, st.integers(24, 110), st.integers(12, 60),
    st.lists(st.tuples(text, text), max_size=3), st.lists(text, max_size=9),
)  # fmt: skip
def test_any_page_fits_any_screen(
    body: list[str], names: list[str], question: str, title: str, width: int, height: int,
    cautions: list[tuple[str, str]], said: list[str],
) -> None:  # fmt: skip
    face = Phone(width, height)
    page = Page(
        "x" * 50, ("1 min", "safe", "warm"), title, tuple(map(Line, body)), tuple(cautions), question=question,
        choices=tuple(Choice(str(at), name) for at, name in enumerate(names, 1)), keys=(("z", "back"),),
    )  # fmt: skip
    leaves = lay_out(page, face, [Row(printable(row)) for row in said])
    fits(leaves, face)
    assert leaves[-1].answers == {choice.key for choice in page.choices}
    assert "\x1b" not in "".join(row.text for leaf in leaves for row in leaf.rows)


def test_what_is_shown_as_one_figure_is_called_by_one_word() -> None:
    words: dict[str, set[str]] = {}
    for place in range(10001):
        words.setdefault(percent(place / 10000), set()).add(chance_word(place / 10000))
    assert all(len(found) == 1 for found in words.values()), words
    assert len({word for found in words.values() for word in found}) == 7


def test_a_danger_is_shown_in_full_at_its_step_until_it_was_met_once(knowledge: Knowledge) -> None:
    """The opening pages it; the first dangerous step shows its own again; the next names them in one line."""
    script = Script(by_list(["y", "y", "y"]))
    session = Session(Job(knowledge), None, Screen(True, script.out, 40), script)
    safety.opening(session)
    steps = [each for each in session.job.checks.values() if each.dangerous and "overspeed" in each.cautions][:2]
    assert len(steps) == 2
    told = " ".join(knowledge.catalogue.cautions["overspeed"].text.split())
    printed = []
    for step in steps:
        before = len(script.out.getvalue())
        cautioned = safety.of_step(session, step, step.cautions, step_page.head(session, step, None))
        assert cautioned is not None
        assert not cautioned.new  # met: one line on the page of the step itself
        printed.append(" ".join(script.out.getvalue()[before:].split()))
    assert told in printed[0]
    assert told not in printed[1]
    assert "Caution, as before: " in printed[1]
    assert "overspeed" in printed[1].partition("Caution, as before: ")[2]


@pytest.mark.parametrize("rows", range(1, 9))
def test_a_lead_is_cut_only_where_no_row_is_free(rows: int) -> None:
    """A blind trial: lead lines ended in "..." with rows free below them; now a sentence is shown whole or not at all."""
    lead = " ".join(["Throttle rod too long, 36 %."] * rows)
    choices = tuple(Choice(str(at), f"answer {at}") for at in range(1, 4))
    for face in FACES:
        for above in range(0, 16, 3):
            page = Page(
                "set", ("1 min", "safe"), "A step", (Line("x"),) * above, question="How?", choices=choices, lead=lead,
                keys=(("z", "back"), ("m", "more")), hint=step_page.DOUBT,
            )  # fmt: skip
            (leaf,) = lay_out(page, face) if above < 12 else lay_out(page, face)[-1:]
            assert not any(row.text.endswith("...") for row in leaf.rows)
            if (shown := " ".join(told(leaf).split()).count("long, 36 %.")) < rows:
                assert len(leaf.rows) + rows - shown > (face.height or 0) - 4, (rows, above)
                assert step_page.DOUBT not in told(leaf)


def test_no_booster_is_named_on_a_set_without_one(knowledge: Knowledge) -> None:
    for booster, offered in (("none", False), ("vacuum", True)):
        session = session_of(Job(knowledge, {"booster": booster}))
        check = knowledge.checks["joint_spray_trial"]
        page = step_page.of_check(session, check, Page(), Cautioned(), "")
        assert any("booster" in choice.text for choice in page.choices) is offered
        assert "water" in page.question
        assert not re.search(r"\b(gas|ether|starting fluid)\b", page.question)


def test_a_share_of_load_is_asked_for_in_kilowatts(knowledge: Knowledge) -> None:
    """Full load is the nameplate less what altitude and heat take; here none is taken (SAE J1349 reference air)."""
    session = session_of(Job(knowledge, {"rated_kw": 6.5}))
    for name, figure in (("frequency_full_load", "full load (6.5 kW)"), ("frequency_half_load", "half load (3.2 kW)")):
        page = step_page.of_check(session, knowledge.checks[name], Page(), Cautioned(), "")
        assert figure in page.question
    text = " ".join(view.remedy_steps(session, knowledge.remedies["set_no_load_speed"]))
    assert "Put full load (6.5 kW) on" in text
    high = session_of(Job(knowledge, {"rated_kw": 6.5, "altitude": 8000}))
    assert "(6.5 kW)" not in view.with_load(high, "at full load")
    for check in knowledge.checks.values():
        assert view.with_load(session, check.ask).count("kW)") == int(bool(re.search(
            r"\b(full|half|quarter) load", check.ask)))  # fmt: skip


@pytest.mark.parametrize("absent", ["load bank", "load"])
def test_a_remedy_says_what_to_do_where_no_load_is_there(knowledge: Knowledge, absent: str) -> None:
    """Without a load bank a lamp can be put on; where no load is allowed, not even that."""
    job = Job(knowledge)
    job.not_here(absent)
    session = session_of(job)
    for name, remedy in knowledge.remedies.items():
        if remedy.retired is not None or job.lacking("remedy", name):
            continue
        told_steps = view.remedy_steps(session, remedy)
        for number, (step, told) in enumerate(zip(remedy.steps, told_steps, strict=False), 1):
            left = {*remedy.under_load, *(remedy.light_load if absent == "load" else ())}
            assert (told == f"Not today: {step}") is (number in left), (name, step)
            # A share of full load in its words: a step put in before it may have moved its number.
            assert number in remedy.under_load or not SHARE.search(step), (name, step)
        if any(map(SHARE.search, remedy.steps)):
            assert remedy.without_load, f"{name}: say what to do without load"
            assert "not proven under load" in told_steps[-1]


@pytest.mark.parametrize(
    ("step", "needs"),
    [
        ("Put full load on and read the fall; not more than 3 Hz, and not less than about half a hertz.", True),
        ("Switch a large load on and off; it should settle within a few swings, each smaller than the last.", True),
        ("Put the load off and on; a stumble asks for an eighth richer.", True),
        ("Start, warm up, and see that the link moves as load comes on and goes off.", True),
        ("Run it warm under load and watch for the miss.", True),
        ("Lock it, put load on and off, and see that the speed comes back at once and settles.", True),
        ("Reset the no-load speed.", False),
        ("Run warm with no load and see that the lever rides clear of the stop.", False),
        ("Keep hands, sleeves and tools clear of fan and belt, and have somebody at the load breaker.", False),
        ("Take the load off before each change, change a little at a time, and lock it.", False),
        ("Do not run it further under load.", False),
        ("Put a light load on; it should read close to 60 Hz.", False),
    ],
)
def test_a_step_that_puts_load_on_is_known_to_the_knowledge(knowledge: Knowledge, step: str, needs: bool) -> None:
    of = [remedy for remedy in knowledge.remedies.values() if step in remedy.steps]
    assert of, "as the knowledge has it"
    assert all((remedy.steps.index(step) + 1 in remedy.under_load) is needs for remedy in of)


def test_what_is_off_beside_goes_back_on_before_the_first_step_with_the_engine_running(knowledge: Knowledge) -> None:
    """It was found by the first word of a step, and "With one person at the stop switch, start ..." went by."""
    job = Job(knowledge)
    job.take_off("air_cleaner", as_found=True)
    session = session_of(job)
    for name in ("overhaul_governor", "renew_governor_spring", "renew_booster_diaphragm"):
        remedy = knowledge.remedies[name]
        told = view.remedy_steps(session, remedy)
        assert told[remedy.runs_from - 1].startswith("Before the start, back on: air cleaner"), name
        assert "start" in told[remedy.runs_from].lower(), name
    for name, remedy in knowledge.remedies.items():
        running = knowledge.catalogue.states[remedy.state].runs
        # Whoever writes that it is started says at which step.
        begins = [at for at, text in enumerate(remedy.steps, 1) if STARTS.search(text)]
        assert running or remedy.retired or not begins or remedy.runs_from <= begins[0], name
        assert running or not begins or remedy.runs_from, name


def test_what_was_not_done_is_not_kept_as_done(knowledge: Knowledge, tmp_path: Path) -> None:
    """A stranger was told "not today" of two steps of the sensitivity, and the record had all of them as done."""
    job = Job(knowledge)
    job.record("hunts_no_load", "present")
    job.not_here("load bank")
    session, script = desk_of(job, by_list(["y", "y", "1"]), tmp_path)
    session.acknowledged.update(("set_sensitivity", "state warm_no_load"))
    remedy = knowledge.remedies["set_sensitivity"]
    assert [remedy.steps.index(text) + 1 for text in view.steps_left(session, remedy)] == [5, 7, 8]
    assert remedy_prompt.one(session, "set_sensitivity", None).command == ""
    assert "carried out, but for 3 steps." in script.out.getvalue()
    assert session.journal is not None
    session.journal.close()
    kept = journal.read(session.journal.path)
    record = collect(knowledge, kept)
    assert "Switch a large load on and off" in record.remedies[0].left
    assert any("not done in full: " in point and "Put full load on" in point for point in record.open_points)
    minutes = Job(knowledge)
    minutes.carry_out("set_sensitivity")
    assert job.minutes == minutes.minutes, "it is no turn that the remedy begins with"
    nameless = without_names(kept.events)
    assert [event.cells for event in nameless if event.kind == "remedy"] == [{}]


@pytest.mark.parametrize(
    ("typed", "numbers"),
    [("not 2 4", [2, 4]), ("all but 3", [3]), ("done, but not 2 and 5", [2, 5]), ("except steps 1, 2", [1, 2])],
)
def test_steps_that_were_not_done_are_named_by_their_numbers(
    knowledge: Knowledge, tmp_path: Path, typed: str, numbers: list[int]
) -> None:
    job = Job(knowledge)
    session, _ = desk_of(job, by_list(["not 99", typed]), tmp_path)
    assert remedy_prompt.one(session, "clean_air_cleaner", None).command == ""
    steps = knowledge.remedies["clean_air_cleaner"].steps
    (event,) = [event for event in job.standing if event.kind == "remedy"]
    assert event.cells == {"left": "; ".join(steps[number - 1] for number in numbers)}


def test_after_a_cure_that_proved_itself_the_lead_speaks_of_what_is_left(knowledge: Knowledge) -> None:
    job = Job(knowledge)
    job.record("hunts_no_load", "present")
    job.record("linkage_feel", "binds")
    job.carry_out("free_linkage", "cured")
    for name, answer in (("hunts_no_load", "absent"), ("frequency_no_load", "61.3 Hz"), ("swing_no_load", "steady"),
                         ("frequency_full_load", "59.2 Hz")):  # fmt: skip
        job.record(name, answer)
    said = step_page.lead(session_of(job), None)
    assert said.startswith(("Nothing more is suspected.", "If anything is left: "))
    assert "Leads" not in said
    job.record("hunts_no_load", "present")
    assert step_page.lead(session_of(job), None).startswith("Leads: ")


def test_what_to_look_at_next_is_never_what_the_remedy_has_just_been_for(knowledge: Knowledge) -> None:
    job = Job(knowledge)
    job.record("hunts_no_load", "present")
    job.record("linkage_feel", "binds")
    found = 0
    for step in job.next_steps(40, deepen=0):
        if step.kind == "remedy" and "look next at" in step.why:
            following = step.why.rpartition("look next at ")[2].removesuffix(".").lower()
            cured = {knowledge.causes[cause].title.lower() for cause in knowledge.remedies[step.id].cures}
            assert following not in cured, step
            found += 1
    assert found


def test_a_heading_does_not_stand_alone_at_the_foot_of_a_leaf() -> None:
    """Nor is a paragraph that hangs divided where a few rows less keep it whole."""
    for before in range(8, 24):
        said = [Row(f"said {at}") for at in range(before)]
        said += [
            Row("A heading", "bold"),
            Row("\u2500" * 9, "dim"),
            Row("224  A long name that goes on"),
            Row("     15.0 h"),
        ]
        said += [Row(f"more {at}") for at in range(20)]
        for leaf in lay_out(Page(question="What do you do?"), FACES[0], said)[:-1]:
            foot = [row.text for row in leaf.rows if not row.text.startswith("Enter or space")][-1]
            assert foot not in ("A heading", "\u2500" * 9, "224  A long name that goes on"), before


@pytest.mark.parametrize(
    ("status", "shown"),
    [
        (("0 min", "safe", "stopped, cold"), "old ca... | 0 min | safe | stopped, cold"),
        (("45 min", "safe", "stopped, cold", "setting 3 of 24"), "old c... | 45 min | safe | stopped, cold"),
        (("45 min", "safe", "running warm, no load"), "old ca... | 45 min | safe | running warm"),
        (("45 min", "HELD: must not run", "stopped, cold"), "old cam... | 45 min | HELD: must not run"),
    ],
)
def test_how_the_set_stands_is_told_before_its_whole_name(status: tuple[str, ...], shown: str) -> None:
    page = Page("old camp by the river", status, "Look")
    assert lay_out(page, Phone())[0].rows[0].text == shown


def test_what_is_off_beside_a_remedy_goes_back_on_before_it_starts_the_engine(tmp_path: Path) -> None:
    """A blind trial: "Start with a hand ready", with air cleaner, plugs and battery lead off from other steps."""
    known = load_knowledge()
    job = Job(known)
    job.record("floats_high_no_load", "present")
    session, _ = desk_of(job, by_list([]), tmp_path)
    remedy = known.remedies["set_rod_length"]
    assert view.remedy_steps(session, remedy) == tuple(view.with_load(session, text) for text in remedy.steps)
    job.record("air_cleaner_look", "clean")
    assert job.off
    told = view.remedy_steps(session, remedy)
    (at,) = [place for place, text in enumerate(told) if text.startswith("Before the start, back on:")]
    assert "air cleaner" in told[at]
    assert told[at + 1].startswith("Start ")
