"""What is off, at the terminal and in the commands: asked before the set runs, off as found, still off at the end."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.files.journal import read
from hertzwright.cli.jobsite import closing, steps
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.job.precautions import of_steps

from technician import by_list, desk_of

KNOWLEDGE = load_knowledge()
ROD = KNOWLEDGE.catalogue.fittings["rod"].question


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return KNOWLEDGE


def told(job: Job) -> list[tuple[str, str]]:
    return [(event.kind, event.id) for event in job.standing if event.kind not in ("set", "note", "acknowledged")]


def test_the_rod_is_asked_about_before_the_first_running_check(knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge, {"booster": "none"})
    answers = ["o linkage_feel", "free", "o frequency_no_load", "n", "o frequency_no_load", "y", "61.5 Hz", "x"]
    session, script = desk_of(job, by_list(answers), tmp_path)
    session.record("hunts_no_load", "present")
    steps.run(session)
    out = " ".join(script.out.getvalue().split())
    assert out.count(ROD) >= 2  # at each try; a step proposed between them may ask as well
    assert told(job) == [
        ("complaint", "hunts_no_load"), ("check", "linkage_feel"), ("put_back", "rod"), ("check", "frequency_no_load"),
    ]  # fmt: skip
    assert job.off == ()
    # "No" left the job where it was: nothing of the check was asked before the second try.
    assert out.count(knowledge.checks["frequency_no_load"].ask) == 1
    assert "overspeed" in out[: out.index(knowledge.checks["frequency_no_load"].ask)].lower()


def test_off_already_when_i_came_takes_no_minutes_and_is_in_the_report(
    knowledge: Knowledge, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = Job(knowledge, {"booster": "none"})
    session, script = desk_of(job, by_list(["o linkage_feel", "t", "free", "x"]), tmp_path)
    session.record("hunts_no_load", "present")
    before = job.minutes
    steps.run(session)
    assert told(job)[1:] == [("taken_off", "rod"), ("check", "linkage_feel")]
    assert [(each.fitting, each.as_found) for each in job.off] == [("rod", True)]
    assert script.out.getvalue().count("Type t.") == 1  # said and kept, it is not asked for again
    plain = Job(knowledge, {"booster": "none"})
    plain.record("linkage_feel", "free")
    assert job.minutes - before == plain.minutes
    assert "Was it off already when you came?" in " ".join(script.out.getvalue().split())
    assert session.journal is not None
    ident = session.journal.ident
    session.journal.close()
    assert main(["report", ident, "--folder", str(tmp_path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    title = knowledge.catalogue.fittings["rod"].title
    assert (found["off_as_found"], found["off_as_left"]) == ([title], [title])
    assert not found["fixed"]
    assert any(title in point for point in found["open_points"])


def test_commands_without_a_prompt_say_which_option_to_give(
    knowledge: Knowledge, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = ["--folder", str(tmp_path)]
    session, _ = desk_of(Job(knowledge), by_list([]), tmp_path)
    session.record("hunts_no_load", "present")
    assert session.journal is not None
    ident, path = session.journal.ident, session.journal.path
    session.journal.close()

    def resume(*options: str) -> tuple[int, str]:
        status = main(["resume", ident, *options, *folder])
        said = capsys.readouterr()
        return status, " ".join((said.out + said.err).split())

    assert resume("--record", "linkage_feel=free")[0] == 0
    kept = read(path).events
    for option in ("--record", "--carry-out"):
        name = "frequency_no_load=61.5 Hz" if option == "--record" else "set_no_load_speed=unknown"
        status, said = resume(option, name)
        assert status == 2
        assert "--put-back rod" in said
        assert ROD in said
        assert read(path).events == kept
    assert resume("--record", "frequency_no_load=unknown")[0] == 0  # nothing was run
    assert resume("--put-back", "rdo")[0] == 2
    status, said = resume("--put-back", "governor_spring")
    assert (status, "not off" in said) == (2, True)
    assert resume("--record", "frequency_no_load=61.5 Hz", "--put-back", "rod")[0] == 0
    assert [event.id for event in read(path).events][-2:] == ["rod", "frequency_no_load"]
    assert resume("--was-off", "guards", "--record", "linkage_feel=free")[0] == 0
    assert resume("--record", "swing_no_load=steady", "--put-back", "all")[0] == 0
    assert [(event.kind, event.id) for event in read(path).events][-3:] == [
        ("put_back", "guards"), ("put_back", "rod"), ("check", "swing_no_load"),
    ]  # fmt: skip


@pytest.mark.parametrize(("answer", "left"), [("y", []), ("n", ["rod"])])
def test_closing_asks_what_is_still_off(answer: str, left: list[str], knowledge: Knowledge, tmp_path: Path) -> None:
    job = Job(knowledge)
    session, script = desk_of(job, by_list([answer]), tmp_path)
    session.record("hunts_no_load", "present")
    session.record("linkage_feel", "free")
    assert closing.close(session, refer=True)
    assert ROD in " ".join(script.out.getvalue().split())
    assert [each.fitting for each in job.off] == left


# ---- cautions of every command are those of the steps that it names


def cautions(steps: list[tuple[str, str]], off: tuple[str, ...] = ()) -> list[str]:
    return list(of_steps(KNOWLEDGE.catalogue, steps, off))


def printed(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, object]:
    main([*arguments, "--json"])
    found = json.loads(capsys.readouterr().out)
    assert isinstance(found, dict)
    return found


def test_rank(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    facts = tmp_path / "facts.yaml"
    known = "  - {complaint: hunts_no_load, answer: present}\n  - {check: linkage_feel, answer: free}\n"
    facts.write_text(f"facts:\n{known}")
    found = printed(capsys, "rank", str(facts))
    named = [(step["kind"], step["id"]) for step in found["next"]]  # type: ignore[attr-defined, index, union-attr]
    assert found["cautions"] == cautions(named, ("rod",))
    running = [step for step in found["next"] if step["put_back"]]  # type: ignore[attr-defined, index, union-attr]
    assert {name for step in running for name in step["put_back"]} <= {"rod"}
    assert not running or "overspeed" in found["cautions"]  # type: ignore[operator]


def test_chart(capsys: pytest.CaptureFixture[str]) -> None:
    found = printed(capsys, "chart", "hunts_no_load", "--depth", "2")
    named, off = [("complaint", "hunts_no_load")], set()
    queue = [found["first"]]
    while queue:
        node = queue.pop()
        assert isinstance(node, dict)
        if node["kind"] in ("check", "remedy") or (node["kind"] == "done" and not node["ends"]):
            named.append((node["kind"], node["id"]))
        named += [("remedy", name) for name in node["due"]]
        off.update(node["put_back"])
        queue += [branch["then"] for branch in node["branches"]]
    named += [("remedy", row["id"]) for row in found["remedies"]]  # what the ends say is to be done
    assert found["cautions"] == cautions(named, tuple(sorted(off)))


def test_trim(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    trials = tmp_path / "trials.csv"
    trials.write_text("speed,sensitivity,no_load,full_load,hunting\n0,0,63.0,59.0,steady\n")
    found = printed(capsys, "trim", "--trials", str(trials))
    pair = KNOWLEDGE.catalogue.pairs[str(found["pair"])]
    turned = [KNOWLEDGE.catalogue.adjusters[name].remedy for name in pair.response]
    proofs = [check for name in turned for check in KNOWLEDGE.remedies[name].proof]
    named = [*(("remedy", name) for name in turned),
             *(("check", name) for name in (*pair.readings.values(), pair.swing, *proofs))]  # fmt: skip
    assert found["cautions"] == cautions(named)
    assert "overspeed" in found["cautions"]  # type: ignore[operator]


def test_the_plan_of_a_load_test(capsys: pytest.CaptureFixture[str]) -> None:
    found = printed(capsys, "loadtest", "--plan")
    assert "overspeed" in found["cautions"]  # type: ignore[operator]
    loaded = KNOWLEDGE.catalogue.states["warm_loaded"].cautions
    assert set(loaded) <= set(found["cautions"])  # type: ignore[call-overload]
    main(["loadtest", "--plan", "--plain"])
    out = capsys.readouterr().out.lower()
    for name in found["cautions"]:  # type: ignore[attr-defined]
        assert KNOWLEDGE.catalogue.cautions[name].title.lower() in out


def test_a_report(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    session, _ = desk_of(Job(KNOWLEDGE), by_list([]), tmp_path)
    session.record("hunts_no_load", "present")
    session.record("linkage_feel", "binds")
    session.carry_out("free_linkage")
    assert session.journal is not None
    session.journal.close()
    found = printed(capsys, "report", session.journal.ident, "--folder", str(tmp_path))
    advised = [
        (step["kind"], step["id"])
        for step in found["recommended"]  # type: ignore[attr-defined, index, union-attr]
    ]
    off = tuple(each.fitting for each in session.job.off)
    wanted = {*cautions([("complaint", "hunts_no_load"), ("check", "linkage_feel"), ("remedy", "free_linkage")]),
              *cautions(advised, off)}  # fmt: skip
    assert {danger["id"] for danger in found["cautions"]} == wanted  # type: ignore[attr-defined, index, union-attr]
    assert "overspeed" in wanted
