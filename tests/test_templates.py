"""What stands around the knowledge for those who send changes: workflows, templates and hooks."""

from __future__ import annotations

import re
import shlex
import tomllib
from pathlib import Path
from typing import Any

import pytest
import yaml

import hertzwright.knowledge
from hertzwright.cli.workshop.knowledge import MENU
from hertzwright.engine.compiler.reader import read_folder

ROOT = Path(__file__).resolve().parent.parent
GITHUB = ROOT / ".github"
KNOWLEDGE = Path(next(iter(hertzwright.knowledge.__path__)))
pytestmark = pytest.mark.skipif(not GITHUB.is_dir(), reason="not a checkout")
FILES = [*sorted(GITHUB.rglob("*.yml")), ROOT / ".pre-commit-config.yaml", ROOT / ".pre-commit-hooks.yaml"]
# Every command that these files tell anybody to run.
COMMAND = re.compile(r"hertzwright knowledge (\w+)((?: (?:--[\w-]+|\w+))*)")


def loaded(path: Path) -> Any:
    return yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_the_files_are_yaml(path: Path) -> None:
    assert loaded(path)


WORKFLOWS = sorted((GITHUB / "workflows").glob("*.yml"))
# An action by its commit, with the version that this commit had for the reader beside it.
PINNED = re.compile(r"uses: (?:actions|pypa)/[\w-]+@[0-9a-f]{40} # v\d+\.\d+\.\d+")


@pytest.mark.parametrize("path", WORKFLOWS, ids=lambda path: path.name)
def test_workflows_may_only_read_and_take_nothing_from_outside_into_a_shell(path: Path) -> None:
    found, text = loaded(path), path.read_text(encoding="utf-8")
    assert found["permissions"] == {"contents": "read"}
    assert "pull_request_target" not in text
    assert "cancel-in-progress" in found["concurrency"]
    for line in text.splitlines():
        assert "uses:" not in line or PINNED.fullmatch(line.strip().removeprefix("- ")), (
            f"pin by commit: {line.strip()}"
        )
    for name, job in found["jobs"].items():
        assert int(job["timeout-minutes"]) <= 180, f"{name} has no sensible time limit"
        assert job.get("permissions") in (None, {"id-token": "write"} if path.name == "release.yml" else None)
        for step in job["steps"]:
            assert "${{" not in step.get("run", ""), "an expression in a shell line runs what a title says"
            if "actions/checkout" in step.get("uses", ""):
                assert step["with"]["persist-credentials"] == "false"


def test_the_wheel_is_built_once_and_tested_on_every_python_and_on_the_lowest_versions() -> None:
    jobs = loaded(GITHUB / "workflows" / "check.yml")["jobs"]
    assert [name for name, job in jobs.items() if any("pip wheel" in step.get("run", "") for step in job["steps"])] == [
        "wheel"
    ]
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    said = {each.rpartition(" ")[2] for each in project["classifiers"] if re.search(r":: 3\.\d+$", each)}
    assert said <= set(jobs["quick"]["strategy"]["matrix"]["python"])
    assert project["requires-python"] == f">={min(said, key=lambda each: int(each[2:]))}"
    for job in (jobs["quick"], jobs["lowest"]):
        assert job["needs"] == "wheel"
        assert any("bash .ci/run" in step.get("run", "") for step in job["steps"])


def test_only_the_release_may_publish_and_by_no_secret() -> None:
    release = loaded(GITHUB / "workflows" / "release.yml")
    assert set(release["on"]) == {"push"}
    assert release["jobs"]["publish"]["permissions"] == {"id-token": "write"}
    assert release["jobs"]["publish"]["needs"] == "test"
    assert all("secrets." not in path.read_text(encoding="utf-8") for path in WORKFLOWS)


def test_the_change_log_begins_with_what_is_not_released_yet() -> None:
    heads = re.findall(r"^## (.*)$", (GITHUB / "CHANGELOG.md").read_text(encoding="utf-8"), re.MULTILINE)
    assert heads[0] == "[Unreleased]"
    version = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
    assert len(heads) == 1 or heads[1].startswith(f"[{version}]")


def test_the_workflow_posts_remarks_and_the_comparison() -> None:
    found = loaded(GITHUB / "workflows" / "knowledge.yml")
    steps = found["jobs"]["knowledge"]["steps"]
    ran = "\n".join(step.get("run", "") for step in steps)
    assert "hertzwright knowledge check knowledge --github" in ran
    assert "hertzwright knowledge tidy knowledge --check" in ran
    assert re.search(
        r'knowledge compare "origin/\$GITHUB_BASE_REF".* --markdown \| tee -a "\$GITHUB_STEP_SUMMARY"', ran
    )
    assert steps[0]["with"]["fetch-depth"] == "0", "the comparison needs the other revision"


def test_commands_that_are_told_exist_with_their_options() -> None:
    """Each `hertzwright knowledge ...` in these files is in the menu and takes the options given."""
    import importlib

    from hertzwright.cli.menu import Parser

    told = [
        (path.name, *match)
        for path in (*FILES, GITHUB / "pull_request_template.md", KNOWLEDGE / "README.md")
        for match in COMMAND.findall(path.read_text(encoding="utf-8"))
    ]
    assert len(told) > 10
    for name, action, rest in told:
        assert action in MENU.commands, f"{name}: knowledge {action}"
        if action not in MENU.commands:
            continue
        parser = Parser(prog=action)
        importlib.import_module(f"{MENU.package}.{MENU.commands[action][0]}").add_arguments(parser)
        known = {option for one in parser._actions for option in one.option_strings}
        for word in shlex.split(rest):
            assert not word.startswith("--") or word in known, f"{name}: knowledge {action} {word}"


def test_hooks_check_and_lay_out_the_knowledge() -> None:
    (local,) = loaded(ROOT / ".pre-commit-config.yaml")["repos"]
    hooks = {hook["id"]: hook for hook in local["hooks"]}
    for found in (hooks, {hook["id"]: hook for hook in loaded(ROOT / ".pre-commit-hooks.yaml")}):
        assert found["knowledge-check"]["entry"].startswith("hertzwright knowledge check")
        assert found["knowledge-check"]["pass_filenames"] == "false", "an edit in one file breaks another"
        assert found["knowledge-tidy"]["entry"] == "hertzwright knowledge tidy --check"
        files = re.compile(found["knowledge-check"]["files"])
        assert files.search("knowledge/areas/linkage.yaml")
        assert not files.search("cli/app.py")


def test_the_issue_for_a_wrong_job_asks_for_the_job_file_and_no_names() -> None:
    text = (GITHUB / "ISSUE_TEMPLATE" / "wrong_at_a_job.yml").read_text()
    asked = {
        item["id"]: item for item in loaded(GITHUB / "ISSUE_TEMPLATE" / "wrong_at_a_job.yml")["body"] if "id" in item
    }
    for needed in ("job", "said", "truth"):
        assert asked[needed]["validations"]["required"] == "true"
    assert "hertzwright jobs --export JOB job.json --without-names" in text
    assert "hertzwright knowledge new case ID --from job.json --for CAUSE" in text
    assert "no customer" in text
    (option,) = asked["private"]["attributes"]["options"]
    assert option["required"] == "true"


def test_the_areas_are_those_of_the_knowledge() -> None:
    catalogue = read_folder(KNOWLEDGE).catalogue
    assert catalogue is not None
    body = loaded(GITHUB / "ISSUE_TEMPLATE" / "new_cause_or_check.yml")["body"]
    (area,) = (item for item in body if item.get("id") == "area")
    assert area["attributes"]["options"] == sorted(catalogue.areas)


def test_the_example_of_owners_names_every_file_and_nobody_real() -> None:
    text = (GITHUB / "CODEOWNERS.example").read_text()
    rows = [line.split() for line in text.splitlines() if line and not line.startswith("#")]
    owned = {row[0] for row in rows}
    for folder in ("areas", "checks", "cases"):
        for path in sorted((KNOWLEDGE / folder).glob("*.yaml")):
            assert f"/knowledge/{folder}/{path.name}" in owned
    for path in owned - {"*"}:
        assert (ROOT / path.lstrip("/")).exists(), path
    assert all(owner.startswith("@your-team/") for _, *owners in rows for owner in owners)
    assert not (GITHUB / "CODEOWNERS").exists(), "an example asks nobody"


def test_the_pull_request_template_asks_for_what_a_reviewer_needs() -> None:
    text = (GITHUB / "pull_request_template.md").read_text()
    for wanted in ("knowledge check", "knowledge tidy --check", "knowledge cases", "knowledge compare main", "retired"):
        assert wanted in text
    assert "published source" in text
    assert "licensed practice" in text
    knowledge, code = text.index("### Knowledge"), text.index("### Code")
    assert knowledge < text.index("knowledge compare main") < code < text.index("bash tests/run")
