"""Schemas for an editor: what ships fits them, and what they underline `check` refuses."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from hertzwright.cli.app import main
from hertzwright.engine.compiler import FOLDERS, SINGLE, completion
from hertzwright.engine.compiler.reader import entries_of
from hertzwright.engine.compiler.source import parse, plain

from small_knowledge import write

KNOWLEDGE = Path(completion.__file__).parents[2] / "knowledge"
FILES = {
    **{f"{kind}.yaml": kind for kind in SINGLE},
    **{
        f"{name}/{path.name}": kind
        for name, kind in FOLDERS.items()
        for path in sorted((KNOWLEDGE / name).glob("*.yaml"))
    },
}


@cache
def schemas() -> dict[str, Any]:
    return dict(completion.editor_schemas(entries_of(KNOWLEDGE)))


@cache
def validator(kind: str) -> Draft202012Validator:
    return Draft202012Validator(schemas()[kind])


@pytest.mark.parametrize(
    "kind",
    [
        pytest.param(kind, marks=pytest.mark.nightly if place % 3 else ())
        for place, kind in enumerate(sorted(schemas()))
    ],
)
def test_each_is_a_schema_by_itself(kind: str) -> None:
    Draft202012Validator.check_schema(schemas()[kind])


def spots(tree: Any, path: tuple[str, ...]) -> Iterator[tuple[Any, Any]]:
    """What stands at a path of `PLACES` in a file, with the mapping or list that holds it, and its key there."""
    head, *rest = path
    under: list[tuple[Any, Any]] = []
    if head == "[]" and isinstance(tree, list):
        under = [(tree, place) for place in range(len(tree))]
    elif head == "*" and isinstance(tree, dict):
        under = [(tree, key) for key in tree]
    elif isinstance(tree, dict) and head in tree:
        under = [(tree, head)]
    for holder, key in under:
        if rest:
            yield from spots(holder[key], tuple(rest))
        else:
            yield holder, key


def tree_of(file: str) -> Any:
    return plain(parse((KNOWLEDGE / file).read_text(encoding="utf-8"), file).root)


NAMED = [
    path for path in completion.PLACES if path[-1] != "tools" and "**" not in path and path[-2:] != ("facts", "[]")
]


def underlined(path: tuple[str, ...], most: int) -> int:
    """How often a wrong name was put at a path of the files that ship, and refused each time."""
    met = 0
    for file in (each for each, kind in FILES.items() if kind == path[0]):
        tree = tree_of(file)
        for holder, key in list(spots(tree, path[1:])):
            whole = holder[key]
            if met == most or not whole:
                continue
            if isinstance(whole, str):
                holder[key] = "no_such_name"
            else:
                holder[key] = {"no_such_name": next(iter(whole.values())), **whole}
            met += 1
            assert not validator(path[0]).is_valid(tree), (file, key)
            holder[key] = whole
    return met


FEW = [("area", "causes", "*", "how_common"), ("area", "remedies", "*", "cures"), ("order", "order", "*", "before", "[]"),
       ("tools", "tools", "*", "states", "[]")]  # fmt: skip


@pytest.mark.parametrize("path", FEW, ids=".".join)
def test_a_name_that_is_not_there_is_underlined(path: tuple[str, ...]) -> None:
    assert underlined(path, 1) == 1


@pytest.mark.nightly
@pytest.mark.parametrize("path", NAMED, ids=".".join)
def test_each_name_that_is_not_there_is_underlined(path: tuple[str, ...]) -> None:
    if not underlined(path, 5):
        pytest.skip("nothing stands there in what ships")


def test_an_answer_of_another_check_is_underlined() -> None:
    tree = tree_of("areas/linkage.yaml")
    shows = tree["causes"]["throttle_rod_long"]["shows"]
    shows["frequency_no_load"] = {"hangs": "half"}
    [error] = validator("area").iter_errors(tree)
    assert list(error.absolute_path)[-1] == "frequency_no_load"


def test_words_tell_their_numbers_and_names_their_titles() -> None:
    lists = schemas()["area"]["$defs"]
    words = dict(
        zip(lists["strength"]["anyOf"][0]["enum"], lists["strength"]["anyOf"][0]["enumDescriptions"], strict=True)
    )
    assert words["half"].startswith("0.50: ")
    checks = schemas()["area"]["properties"]["causes"]["additionalProperties"]["properties"]["shows"]["properties"]
    assert checks["linkage_feel"]["description"].startswith("Feel of the linkage")


def test_the_schemas_that_ship_are_those_of_the_files(capsys: pytest.CaptureFixture[str]) -> None:
    for kind, wanted in schemas().items():
        written = (KNOWLEDGE / "editor" / f"{kind}.json").read_text(encoding="utf-8")
        assert json.loads(written) == wanted, f"run `hertzwright knowledge tidy`: editor/{kind}.json is old"


def test_tidy_writes_them_where_a_knowledge_keeps_them(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write(tmp_path)
    assert main(["knowledge", "tidy", str(tmp_path)]) == 0
    assert not (tmp_path / "editor").exists()
    (tmp_path / "editor").mkdir()
    assert main(["knowledge", "tidy", "--check", str(tmp_path)]) == 1
    assert "names that an editor offers" in capsys.readouterr().out
    assert main(["knowledge", "tidy", str(tmp_path)]) == 0
    assert main(["knowledge", "tidy", "--check", str(tmp_path)]) == 0
    lists = json.loads((tmp_path / "editor" / "area.json").read_text(encoding="utf-8"))["$defs"]
    assert lists["states"]["enum"] == list(entries_of(tmp_path).of("states"))


# ---- in an editor: the language server that editors run, if it is installed (npm install --global yaml-language-server)


class Server:
    """A language server for YAML, spoken to as an editor does (Language Server Protocol 3.17 over its standard input)."""

    def __init__(self, folder: Path) -> None:
        self.process = subprocess.Popen(
            ["yaml-language-server", "--stdio"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        self.number = 0
        self.request("initialize", {"processId": None, "rootUri": folder.as_uri(), "capabilities": {"textDocument": {
            "hover": {"contentFormat": ["markdown"]}, "completion": {}}}})  # fmt: skip
        self.notify("initialized", {})
        self.notify("workspace/didChangeConfiguration", {"settings": SETTINGS})

    def send(self, message: dict[str, Any]) -> None:
        assert self.process.stdin is not None
        body = json.dumps({"jsonrpc": "2.0", **message}).encode()
        self.process.stdin.write(b"Content-Length: %d\r\n\r\n" % len(body) + body)
        self.process.stdin.flush()

    def read(self) -> dict[str, Any]:
        assert self.process.stdout is not None
        length = 0
        while (row := self.process.stdout.readline().strip()) or not length:
            if row.lower().startswith(b"content-length:"):
                length = int(row.split(b":")[1])
        found: dict[str, Any] = json.loads(self.process.stdout.read(length))
        if found.get("method") == "workspace/configuration":
            self.send(
                {
                    "id": found["id"],
                    "result": [SETTINGS.get(each.get("section"), {}) for each in found["params"]["items"]],
                }
            )
        elif "method" in found and "id" in found:
            self.send({"id": found["id"], "result": None})
        return found

    def notify(self, method: str, parameters: dict[str, Any]) -> None:
        self.send({"method": method, "params": parameters})

    def request(self, method: str, parameters: dict[str, Any]) -> Any:
        self.number += 1
        self.send({"id": self.number, "method": method, "params": parameters})
        while (found := self.read()).get("id") != self.number or "method" in found:
            pass
        assert "error" not in found, found
        return found["result"]

    def problems(self, uri: str) -> list[str]:
        """What is underlined in a file that has just been opened or changed."""
        while (found := self.read()).get("method") != "textDocument/publishDiagnostics" or found["params"][
            "uri"
        ] != uri:
            pass
        return [each["message"] for each in found["params"]["diagnostics"]]


SETTINGS = {"yaml": {"validate": True, "hover": True, "completion": True, "schemaStore": {"enable": False}}}


@pytest.mark.nightly
@pytest.mark.skipif(shutil.which("yaml-language-server") is None, reason="no language server for YAML is installed")
def test_an_editor_underlines_completes_and_explains(tmp_path: Path) -> None:
    folder = tmp_path / "knowledge"
    shutil.copytree(KNOWLEDGE, folder, ignore=shutil.ignore_patterns("__pycache__"))
    server = Server(tmp_path)
    try:
        text = (folder / "areas" / "linkage.yaml").read_text(encoding="utf-8")
        uri = (folder / "areas" / "linkage.yaml").as_uri()
        document = {"uri": uri, "languageId": "yaml", "version": 1, "text": text}
        server.notify("textDocument/didOpen", {"textDocument": document})
        assert server.problems(uri) == []
        rows = text.split("\n")
        row = next(place for place, each in enumerate(rows) if each.startswith("      linkage_feel: {"))
        wrong = [*rows[:row], "      linkage_feal: {binds: haf}", "      ", *rows[row + 1 :]]
        changed = {"uri": uri, "version": 2}
        server.notify(
            "textDocument/didChange", {"textDocument": changed, "contentChanges": [{"text": "\n".join(wrong)}]}
        )
        assert any("linkage_feal" in each for each in server.problems(uri))
        at = {"textDocument": {"uri": uri}, "position": {"line": row + 1, "character": 6}}
        offered = server.request("textDocument/completion", at)
        items = offered["items"] if isinstance(offered, dict) else offered
        labels = {each["label"] for each in items}
        assert {"linkage_feel", "arm_clamp"} <= labels
        good = [*rows[:row], "      linkage_feel: {binds: half}", *rows[row + 1 :]]
        changed = {"uri": uri, "version": 3}
        server.notify(
            "textDocument/didChange", {"textDocument": changed, "contentChanges": [{"text": "\n".join(good)}]}
        )
        server.problems(uri)
        hovers = [
            str(
                server.request(
                    "textDocument/hover", {"textDocument": {"uri": uri}, "position": {"line": row, "character": column}}
                )
            )
            for column in (10, 30)
        ]
        assert "Feel of the linkage" in hovers[0]  # the title of the check
        assert "0.50" in hovers[1]  # the number of the word
    finally:
        server.process.kill()
        server.process.communicate()
