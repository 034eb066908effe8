"""`hertzwright knowledge compare`: what a reviewer is told, from git revisions and folders, and how it ends."""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import subprocess
import tarfile
from concurrent.futures import BrokenExecutor, Executor, Future
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.workshop import compared, revision
from hertzwright.cli.workshop.effects import CaseChange, CaseVerdict

import small_knowledge as small

LINKAGE = "areas/linkage.yaml"
WEAK = (LINKAGE, "stop_gap: {none: usually}", "stop_gap: {none: very_seldom}")


def git(folder: Path, *arguments: str) -> str:
    names = {"GIT_AUTHOR_NAME": "a", "GIT_AUTHOR_EMAIL": "a@example.org"}
    names |= {"GIT_COMMITTER_NAME": "a", "GIT_COMMITTER_EMAIL": "a@example.org", "GIT_CONFIG_GLOBAL": os.devnull}
    done = subprocess.run(
        ["git", "-C", str(folder), *arguments], capture_output=True, text=True, check=True, env={**os.environ, **names}
    )
    return done.stdout.strip()


@pytest.fixture
def checkout(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A repository with the small knowledge at its first revision, tagged `first`; the test stands in it."""
    top = tmp_path / "repository"
    small.write(top / "knowledge")
    git(top, "init", "--quiet")
    git(top, "add", "--all")
    git(top, "commit", "--quiet", "--message", "first")
    git(top, "tag", "first")
    monkeypatch.chdir(top)
    monkeypatch.setenv("COLUMNS", "100")
    return top


def edit(top: Path, file: str, good: str, bad: str) -> None:
    path = top / "knowledge" / file
    text = path.read_text(encoding="utf-8")
    assert text.count(good) == 1
    path.write_text(text.replace(good, bad), encoding="utf-8")


def compare(*words: str) -> int:
    return main(["knowledge", "compare", *words, "--processes", "1"])


def test_nothing_changed(checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    edit(checkout, LINKAGE, "brief: The throttle cannot close.", "brief: >-\n      The throttle\n      cannot close.")
    edit(checkout, "order.yaml", "order:\n", "# a remark\norder:\n")
    assert compare("first") == 0
    out = capsys.readouterr().out
    assert "Nothing changed in meaning." in out
    assert "Reworded" not in out


def test_words_alone_are_named(checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    edit(checkout, LINKAGE, "Turn the rod end.", "Turn the rod end by half turns.")
    assert compare("first") == 0
    out = capsys.readouterr().out
    assert "Nothing changed in meaning. Reworded only: 1 entry." in out
    assert "remedy set_rod" in out


def test_a_case_that_got_worse_is_named_and_fails(checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    edit(checkout, *WEAK)
    assert compare("first", "--jobs", "6") == 1
    out = capsys.readouterr().out
    assert "1 change of meaning." in out
    assert "WORSE: 1 solved case passed before and fails now." in out
    assert "stop_gap: none: usually (0.75) -> very seldom (0.05), weakened" in out
    assert "WORSE: rod_after_overhaul" in out
    assert "fails now, passed before:" in out
    assert "expected at least 0.5" in out
    assert "if the new knowledge is right" in out
    assert "if the old knowledge is right" in out
    # The other way round the same case comes right, and that is no failure.
    assert compare("first", "first", "--jobs", "0") == 0
    git(checkout, "commit", "--quiet", "--all", "--message", "second")
    assert compare("HEAD", "first", "--jobs", "0") == 0
    assert "1 solved case failed before and passes now." in capsys.readouterr().out


@pytest.mark.whole_ways
def test_the_same_figures_from_any_form_and_by_processes(checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    edit(checkout, *WEAK)
    assert compare("first", "--jobs", "3", "--json") == 1
    found = json.loads(capsys.readouterr().out)
    assert found["version"] == 2
    assert found["worse"] == 1
    assert found["changes"] == [
        {
            "kind": "cause",
            "id": "rod_long",
            "what": "stop_gap: none",
            "before": "usually (0.75)",
            "after": "very seldom (0.05)",
            "direction": "weakened",
        }
    ]
    assert [each["right"] for each in found["jobs"]] == ["new", "old"]
    for each in found["jobs"]:
        assert 1 <= each["count"] <= 9, "about so many: what is at stake is followed for itself, the rest by lot"
        assert each["same"] == each["count"] or each["low"] is None or each["low"] <= each["difference"] <= each["high"]
    assert main(["knowledge", "compare", "first", "--jobs", "3", "--json", "--processes", "2"]) == 1
    assert json.loads(capsys.readouterr().out) == found


def test_markdown_for_the_pull_request(checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    edit(checkout, *WEAK)
    assert compare("first", "--jobs", "6", "--markdown") == 1
    out = capsys.readouterr().out
    assert out.startswith("## What this change of the knowledge does\n")
    assert "- **WORSE: 1 solved case passed before and fails now.**" in out
    assert re.search(r"\n- cause `rod_long` stop.*usually .*very seldom .*, weakened\n", out)
    assert "| `rod_after_overhaul` | **" in out
    assert "- `rod_after_overhaul`: rod\\_long: " in out
    rows = out.splitlines()
    assert len(rows) <= 60
    assert rows.index("### Solved cases that come out otherwise") < rows.index("### Meaning of the edit")
    assert out.count("<details>") == out.count("</details>")
    tables = [row.count("|") for row in rows if row.startswith("|")]
    assert tables
    assert set(tables) <= {5}


@pytest.mark.parametrize("columns", ["40", pytest.param("100", marks=pytest.mark.nightly)])
@pytest.mark.parametrize("plain", [[], ["--plain"]])
def test_the_width_of_the_screen_is_kept(
    columns: str, plain: list[str], checkout: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    edit(checkout, *WEAK)
    edit(checkout, "states.yaml", 'warm: {stopped: "2"}', 'warm: {stopped: "90"}')
    edit(checkout, "checks/linkage.yaml", 'minutes: "2"', 'minutes: "200"')
    assert compare("first", "--jobs", "0", *plain) == 1
    out = capsys.readouterr().out
    assert max(len(row) for row in out.splitlines()) <= int(columns)
    assert "Decision chart: Floats high" in " ".join(out.split())
    assert ("after" in out) or ("+ " in out)


def test_a_case_is_worse_however_it_was_rewritten(checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    edit(checkout, *WEAK)
    edit(checkout, "cases/linkage.yaml", 'at_least: "0.5"', 'at_least: "0.01"')
    edit(checkout, "cases/linkage.yaml", 'within_first: "1"', 'within_first: "3"')
    assert compare("first", "--jobs", "0") == 0
    out = capsys.readouterr().out
    assert "with at least: 0.5 -> 0.01, looser" in out
    assert "within the first: 1 -> 3, looser" in out
    assert "passes only because it was rewritten; as it was before:" in out
    assert "expected at least 0.5" in out


def test_a_case_taken_out_is_named(checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    edit(checkout, *WEAK)
    (checkout / "knowledge" / "cases" / "linkage.yaml").unlink()
    assert compare("first", "--jobs", "0") == 0
    assert "case taken out; the new knowledge would fail it:" in capsys.readouterr().out


def test_folders_can_be_compared(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    old, new = small.write(tmp_path / "a" / "knowledge"), small.write(tmp_path / "b")
    assert compare(str(old.parent), str(new), "--jobs", "0") == 0
    assert "Nothing changed" in capsys.readouterr().out
    file, good, bad = WEAK
    small.write(new, {file: small.FILES[file].replace(good, bad)})
    assert compare(str(old), "--knowledge", str(new), "--jobs", "0") == 1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--", "--output=/tmp/x"], "is no revision and no folder"),
        (["-x"], "see hertzwright knowledge compare --help"),
        (["no_such_revision"], "no such folder, and no such revision"),
        (["first:knowledge"], "no such revision"),
        (["knowledge/words.yaml"], "is a file; expected a folder of knowledge or a git revision"),
        (["."], ""),
        (["first", "--jobs", "-3"], "expected a number of jobs from 0 to 100000"),
        (["first", "--jobs", "many"], "expected a number of jobs"),
        (["first\x1b[31m"], "is no revision and no folder"),
        (["tests"], "no such folder"),
    ],
)
def test_wrong_use_is_told(words: list[str], said: str, checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status = main(["knowledge", "compare", "--processes", "1", *words])
    err = capsys.readouterr().err
    assert status == (2 if said else 0)
    assert said in err
    assert "\x1b" not in err


def test_outside_of_a_repository(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))
    assert compare("main") == 2
    assert "no git repository here" in capsys.readouterr().err
    (tmp_path / "empty").mkdir()
    assert compare("empty") == 2
    assert "no knowledge in this folder" in capsys.readouterr().err


def test_an_old_revision_that_does_not_load_is_compared_as_far_as_it_does(
    checkout: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edit(checkout, "checks/linkage.yaml", "kind: look", "kind: glance")
    edit(checkout, "order.yaml", "kind: cure_first", "kind: do_again")
    git(checkout, "commit", "--quiet", "--all", "--message", "broken")
    git(checkout, "checkout", "--quiet", "first")
    assert compare("HEAD@{1}", "--jobs", "0") == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Not compared: checks/linkage.yaml: 1 error by today's rules; taken from knowledge as it is now." in out
    assert "kind: do_again -> cure_first" in out
    # The new side must load.
    assert compare("first", "HEAD@{1}", "--jobs", "0") == 2
    err = capsys.readouterr().err
    assert "does not load: 1 error" in err
    assert "checks/linkage.yaml" in err


def test_only_plain_files_of_the_folder_come_out_of_an_archive() -> None:
    packed = io.BytesIO()
    with tarfile.open(fileobj=packed, mode="w") as archive:
        for name, kind in (
            ("knowledge/words.yaml", tarfile.REGTYPE),
            ("knowledge/areas/linkage.yaml", tarfile.REGTYPE),
            ("knowledge/../../evil.yaml", tarfile.REGTYPE),
            ("/etc/evil.yaml", tarfile.REGTYPE),
            ("knowledge/link.yaml", tarfile.SYMTYPE),
            ("knowledge/README.md", tarfile.REGTYPE),
            ("other/words.yaml", tarfile.REGTYPE),
        ):
            member = tarfile.TarInfo(name)
            member.type, member.linkname = kind, "/etc/passwd" if kind == tarfile.SYMTYPE else ""
            member.size = 4 if kind == tarfile.REGTYPE else 0
            archive.addfile(member, io.BytesIO(b"a: b") if member.size else None)
    assert revision.unpacked(packed.getvalue(), "knowledge") == {"words.yaml": b"a: b", "areas/linkage.yaml": b"a: b"}
    with pytest.raises(revision.RevisionError, match="no archive"):
        revision.unpacked(b"x" * 600, "knowledge")


def test_nothing_is_left_behind_and_nothing_is_checked_out(checkout: Path) -> None:
    edit(checkout, *WEAK)
    before = git(checkout, "status", "--porcelain"), git(checkout, "rev-parse", "HEAD")
    assert compare("first", "--jobs", "0") == 1
    assert (git(checkout, "status", "--porcelain"), git(checkout, "rev-parse", "HEAD")) == before


def test_a_reviewer_cannot_be_misled_by_markup() -> None:
    assert compared.code("a`b|c\x1b") == "`a'b/c\\x1b`"


def test_lines_side_by_side() -> None:
    rows = list(compared.paired(("a", "b", "c"), ("a", "x", "y", "c", "d")))
    assert rows == [("a", " ", "a"), ("b", "~", "x"), ("", "+", "y"), ("c", " ", "c"), ("", "+", "d")]
    assert [(left, right) for left, mark, right in rows if mark == " "] == [("a", "a"), ("c", "c")]


def test_when_a_case_is_worth_telling() -> None:
    one = CaseVerdict("a", (), "rod_long", 0.5, 0.5, "stop_gap", 20.0)
    assert not CaseChange("a", one, one).told
    failing = CaseVerdict("a", ("why",), "rod_long", 0.5, 0.5, "stop_gap", 20.0)
    assert CaseChange("a", one, failing).worse
    assert CaseChange("a", failing, one).better
    assert not CaseChange("a", failing, failing).told
    assert CaseChange("a", None, one).told
    assert CaseChange("a", one, failing).failing
    assert CaseChange("a", None, failing).failing
    assert not CaseChange("a", failing, failing).failing
    assert CaseChange("a", one, CaseVerdict("a", (), "rod_short", 0.5, 0.5, "stop_gap", 20.0)).decides
    moved = CaseChange("a", one, CaseVerdict("a", (), "rod_long", 0.6, 0.6, "stop_gap", 20.0))
    assert (moved.decides, moved.told) == (False, True)
    # Another first suggestion is only told where it saves something, and not for what each expects by itself.
    other = CaseVerdict("a", (), "rod_long", 0.5, 0.5, "frequency", 25.0)
    assert not CaseChange("a", one, other).told
    assert CaseChange("a", one, other, (), 3.0).told


def test_a_new_case_that_fails_fails_the_review(checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = checkout / "knowledge" / "cases" / "linkage.yaml"
    text = path.read_text(encoding="utf-8")
    case = text[text.index("  rod_after_overhaul:") :]
    twin = case.replace("rod_after_overhaul", "rod_again").replace('at_least: "0.5"', 'at_least: "0.999"')
    path.write_text(text.rstrip("\n") + "\n" + twin, encoding="utf-8")
    assert compare("first", "--jobs", "0") == 1
    out = capsys.readouterr().out
    assert "FAILS: 1 new case fails." in out
    assert compare("first", "--jobs", "0", "--json") == 1
    assert json.loads(capsys.readouterr().out)["failing"] == 1


@pytest.mark.parametrize("left", [True, False])
def test_what_is_renamed_is_compared_with_what_it_was(
    left: bool, checkout: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same cause under another id, retired as it should be (`left`) or not: nothing else is told of it."""
    gone = ""
    for path in sorted((checkout / "knowledge").rglob("*.yaml")):
        text = path.read_text(encoding="utf-8")
        if path.name == "linkage.yaml" and path.parent.name == "areas":
            own = text[text.index("  rod_long:") :]
            own = own[: own.index("\n  rod_short:") + 1]
            gone = (
                own.rstrip("\n") + "\n    retired: {since: 2026-01-31, reason: Two words., replaced_by: rod_too_long}\n"
            )
            gone = gone.replace("part: rod", "part: rod")
        path.write_text(re.sub(r"\brod_long\b", "rod_too_long", text), encoding="utf-8")
    area = checkout / "knowledge" / LINKAGE
    if left:
        text = area.read_text(encoding="utf-8")
        area.write_text(text.replace("  rod_too_long:\n", f"{gone}\n  rod_too_long:\n", 1), encoding="utf-8")
    assert compare("first", "--jobs", "0") == (0 if left else 1)
    out = " ".join(capsys.readouterr().out.split())
    assert "Renamed: rod_long is rod_too_long now, and is compared as that." in out
    assert "Every solved case comes out as before." in out
    assert ("DELETED: cause rod_long" in out) is not left
    assert "removed" not in out
    assert compare("first", "--jobs", "0", "--json") == (0 if left else 1)
    found = json.loads(capsys.readouterr().out)
    assert found["renamed"] == {"rod_long": "rod_too_long"}
    assert (found["cases"], found["jobs"], found["charts"]) == ([], [], [])


# ---- the review does not lie

CHECKS = "checks/linkage.yaml"


def test_an_edit_of_other_sets_is_told_by_those_sets(checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    edit(checkout, LINKAGE, "only_if: {booster: vacuum}", "only_if: {booster: none}")
    git(checkout, "commit", "--quiet", "--all", "--message", "second")
    edit(checkout, LINKAGE, "how_common: very_seldom\n    only_if", "how_common: '0.6'\n    only_if")
    assert compare("HEAD", "--jobs", "4", "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert 4 < found["sets"]["met"] <= found["sets"]["drawn"]
    assert found["sets"]["wanted"] == ["booster none"]
    assert found["sets"]["charts_of"]["booster"] == "none"
    assert found["sets"]["cases_met"] == 0
    assert all(1 <= each["count"] <= 12 for each in found["jobs"])
    compare("HEAD", "--jobs", "4")
    out = " ".join(capsys.readouterr().out.split())
    assert "sets drawn over all features" in out
    assert "No solved case is on a set that this edit meets" in out
    assert "+0.0" not in out


def test_an_edit_that_no_set_meets_is_told_so_in_place_of_a_figure(
    checkout: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edit(checkout, LINKAGE, "only_if: {booster: vacuum}", "only_if: {booster: none}")
    git(checkout, "commit", "--quiet", "--all", "--message", "second")
    edit(checkout, LINKAGE, "how_common: very_seldom\n    only_if", "how_common: sometimes\n    only_if")
    for form in ([], ["--markdown"]):
        assert compare("HEAD", "--jobs", "8", "--set", "booster=vacuum", *form) == 0
        out = " ".join(capsys.readouterr().out.split())
        assert "No set drawn meets this edit (500 drawn" in out
        assert "It asks for booster none: make such sets with" in out
        assert "+0.0" not in out
        assert "min a job" not in out
    assert compare("HEAD", "--jobs", "8", "--set", "booster=vacuum", "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["jobs"], found["charts"], found["sets"]["met"]) == ([], [], 0)
    assert compare("HEAD", "--jobs", "8", "--set", "boster=none") == 2
    assert "boster" in capsys.readouterr().err


def test_where_every_job_goes_the_same_way_no_figure_is_given(
    checkout: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edit(checkout, LINKAGE, "how_common: very_seldom\n    only_if", "how_common: '0.0501'\n    only_if")
    assert compare("first", "--jobs", "6") == 0
    out = " ".join(capsys.readouterr().out.split())
    # By the sets that were looked at, of which there are three for each job asked for: 15 % of 18, and more as they count.
    most = re.search(r"None of \d+ jobs went another way \(at most (\d+) % of such jobs would, 95 %\)", out)
    assert most is not None, out
    assert 15 <= int(most[1]) <= 60
    assert "+0.0" not in out
    assert compare("first", "--jobs", "6", "--json") == 0
    jobs = json.loads(capsys.readouterr().out)["jobs"]
    assert [(each["difference"], each["low"], each["high"]) for each in jobs] == [(None, None, None)] * 2


def test_what_no_made_up_job_rests_on_is_not_played(checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    edit(checkout, LINKAGE, "cautions: [hot_parts]", "cautions: [rotating_parts]")
    assert compare("first", "--jobs", "6") == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "No job was played: nothing changed that suggestions on made-up sets rest on." in out
    assert "+0.0" not in out


@pytest.mark.parametrize(
    ("file", "good", "bad", "told"),
    [
        (CHECKS, "        wide: ", "        broad: ", "answer wide of stop_gap"),
        ("features.yaml", 'choices: ["50", "60"]', 'choices: ["60", "400"]', "value 50 of hertz"),
        ("features.yaml", 'range: ["1", "8"]', 'range: ["1", "4"]', "value 8 of cylinders"),
        ("cautions.yaml", "  hot_parts:", "  burns:", "caution hot_parts"),
        ("complaints.yaml", "  floats_high:", "  too_fast:", "complaint floats_high"),
        (LINKAGE, "  rod_short:", "  rod_too_short:", "cause rod_short"),
        (LINKAGE, "  set_speed:", "  turn_speed:", "remedy set_speed"),
        (CHECKS, "  stop_gap:", "  gap_at_stop:", "check stop_gap"),
        ("tolerances.yaml", "  narrow:", "  tight:", "tolerance set narrow"),
    ],
)
def test_a_published_id_that_is_gone_fails(
    file: str, good: str, bad: str, told: str, checkout: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Renamed in every file, so that the knowledge itself holds together and `check` is green."""
    if file == "tolerances.yaml":
        text = (checkout / "knowledge" / file).read_text(encoding="utf-8")
        own = text[text.index("  default:") : text.index("danger:")]
        (checkout / "knowledge" / file).write_text(
            text.replace(own, own + own.replace("  default:", "  narrow:")), encoding="utf-8"
        )
        git(checkout, "commit", "--quiet", "--all", "--message", "with narrow")
        git(checkout, "tag", "--force", "first")
    one, two = (text.strip().removesuffix(":") for text in (good, bad))
    for path in sorted((checkout / "knowledge").rglob("*.yaml")):
        text = path.read_text(encoding="utf-8")
        if good.startswith(" "):
            path.write_text(re.sub(rf"\b{one}\b(?! gap\.| parts$)", two, text), encoding="utf-8")
        else:
            path.write_text(text.replace(good, bad), encoding="utf-8")
    assert main(["knowledge", "check", "knowledge"]) == 0
    capsys.readouterr()
    assert compare("first", "--jobs", "0") == 1
    out = " ".join(capsys.readouterr().out.split())
    assert f"DELETED: {told} was published, not retired" in out
    assert compare("first", "--jobs", "0", "--markdown") == 1
    assert "- **DELETED: " in capsys.readouterr().out
    assert compare("first", "--jobs", "0", "--json") == 1
    assert f"{told} " in "".join(
        f"{each['kind']} {each['id']}{' of ' + each['of'] if each['of'] else ''} "
        for each in json.loads(capsys.readouterr().out)["deleted"]
    )


def test_an_id_of_an_old_file_that_does_not_load_today_is_published_too(
    checkout: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edit(checkout, "cautions.yaml", "    text: Let them cool.", "    txt: Let them cool.")
    git(checkout, "commit", "--quiet", "--all", "--message", "an old form")
    edit(checkout, "cautions.yaml", "    txt: Let them cool.", "    text: Let them cool.")
    edit(checkout, "cautions.yaml", "  hot_parts:", "  burns:")
    edit(checkout, LINKAGE, "cautions: [hot_parts]", "cautions: [burns]")
    edit(checkout, "units.yaml", "cautions: [hot_parts]", "cautions: [burns]")
    compare("HEAD", "--jobs", "0")
    out = " ".join(capsys.readouterr().out.split())
    assert "DELETED: caution hot_parts was published, not retired" in out


def test_what_is_retired_is_not_deleted(checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = checkout / "knowledge" / LINKAGE
    text = path.read_text(encoding="utf-8").replace("rod_long: usually, rod_short: usually", "rod_long: usually")
    gone = "retired: {since: 2026-01-31, reason: One was enough., replaced_by: rod_long}"
    path.write_text(text.replace("    sources: [from memory]", f"    sources: [from memory]\n    {gone}", 1))
    assert compare("first", "--jobs", "2") == 0
    out = capsys.readouterr().out
    assert "DELETED" not in out
    assert "cause rod_short retired: use rod_long" in out


@pytest.mark.parametrize("what", ["cause", "check"])
def test_every_command_says_that_something_retired_is_still_named(
    what: str, checkout: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A retired cause that `cures` names, a retired check that `shows` names: once a KeyError, or a wait without end."""
    retired = "    retired: {since: 2026-01-31, reason: One was enough.}\n"
    file, after = (LINKAGE, "    sources: [from memory]\n") if what == "cause" else (CHECKS, "  stop_gap:\n")
    path = checkout / "knowledge" / file
    path.write_text(path.read_text(encoding="utf-8").replace(after, after + retired, 1), encoding="utf-8")
    (checkout / "job.yaml").write_text("facts:\n  - {complaint: floats_high, answer: present}\n", encoding="utf-8")
    monkeypatch.setenv("HERTZWRIGHT_HOME", str(checkout / "home"))
    assert main(["knowledge", "check", "knowledge"]) == 1
    assert "K036" in capsys.readouterr().out
    for words in (
        ["rank", "job.yaml"], ["start", "--from", "job.yaml", "--name", "one", "--acknowledge"], ["chart", "floats_high"], ["knowledge", "cases"],
        ["knowledge", "show", "rod_short"], ["knowledge", "draw", "rod_short"], ["knowledge", "compare", "first"],
        ["knowledge", "rehearse"],
    ):  # fmt: skip
        assert main([*words, "--knowledge", "knowledge"]) == 2, words
        err = capsys.readouterr().err
        assert "is retired" in err or "K036" in err, words
        assert "Traceback" not in err


class Dead(Executor):
    """Processes that are killed as soon as they have work."""

    def submit(self, task, /, *given, **named):  # type: ignore[no-untyped-def]
        future: Future[object] = Future()
        future.set_exception(BrokenExecutor("killed"))
        return future


@pytest.mark.parametrize(
    ("module", "words"),
    [("compare", ["compare", "first", "--processes", "2"]), ("rehearse", ["rehearse", "--workers", "2"])],
)
def test_a_worker_that_dies_is_a_loud_end(
    module: str,
    words: list[str],
    checkout: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    edit(checkout, *WEAK)
    monkeypatch.setattr(f"hertzwright.cli.workshop.{module}.workers", lambda given: contextlib.nullcontext(Dead()))
    assert main(["knowledge", *words, "--jobs", "4", "--knowledge", "knowledge"]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert "a process that worked on it ended before it was done: killed, or out of memory" in err
