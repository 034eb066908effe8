"""`hertzwright knowledge tidy`: layout changes, and nothing else does."""

from __future__ import annotations

import dataclasses
import importlib.util
import io
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import hertzwright.knowledge
from hertzwright.cli.app import main
from hertzwright.cli.workshop import layout, tidy
from hertzwright.engine.compiler.model import Place
from hertzwright.engine.compiler.reader import FOLDERS, read_folder

from small_knowledge import FILES, write
from tiers import some

Captured = pytest.CaptureFixture[str]
SHIPPED = Path(next(iter(hertzwright.knowledge.__path__)))
HEADER = "# yaml-language-server: $schema=../editor/area.json\n"
MESSY = """\
area: linkage
brief: Everything between governor and throttle.
# said of the title
title: Linkage
causes:
  rod_long:
    # why it is brief
    brief: The throttle cannot close.   \n    title: Rod too long   # end of the line

    # how common, as counted
    how_common: very_seldom
    note: |
      The arm runs out of travel. The throttle stays open.
      # no comment. But text.
    # about what it shows. It stays in one piece.
    shows:
      frequency: {high: usually}
    #? a help
    sources: [common practice]
  # after the last key
remedies:
  set_rod:
    minutes: "10"
    steps:
      - Turn. And turn again, said a note that is a list item and stays as it is.
    title: Set the rod
# the end
"""
NEAT = """\
# yaml-language-server: $schema=../editor/area.json
area: linkage
# said of the title
title: Linkage
brief: Everything between governor and throttle.
causes:
  rod_long:
    title: Rod too long   # end of the line

    # how common, as counted
    how_common: very_seldom
    # why it is brief
    brief: The throttle cannot close.
    note: |
      The arm runs out of travel.
      The throttle stays open.
      # no comment.
      But text.
    # about what it shows. It stays in one piece.
    shows:
      frequency: {high: usually}
    sources: [common practice]
  # after the last key
remedies:
  set_rod:
    title: Set the rod
    minutes: "10"
    steps:
      - Turn. And turn again, said a note that is a list item and stays as it is.
# the end
"""


def kind_of(file: str) -> str:
    folder, _, name = file.rpartition("/")
    return FOLDERS.get(folder, name.removesuffix(".yaml"))


def test_keys_move_with_their_comments_and_sentences_get_lines_of_their_own() -> None:
    assert layout.tidied("area", "areas/linkage.yaml", MESSY) == NEAT
    assert layout.tidied("area", "areas/linkage.yaml", NEAT) == NEAT
    assert layout.same("area", "areas/linkage.yaml", MESSY, NEAT)


def test_a_long_text_with_two_sentences_becomes_a_block() -> None:
    long = "The rod is " + "very " * 25 + "long. The throttle cannot close."
    text = f'{HEADER}area: a\ntitle: T\nbrief: "{long}"\n'
    found = layout.tidied("area", "areas/a.yaml", text)
    assert found is not None
    assert found.splitlines()[3:] == ["brief: >-", f"  {long.split('. ')[0]}.", "  The throttle cannot close."]
    assert layout.same("area", "areas/a.yaml", text, found)
    assert layout.tidied("area", "areas/a.yaml", found) == found


@pytest.mark.parametrize(
    ("other", "why"),
    [
        (NEAT.replace("usually", "seldom"), "a value"),
        (NEAT.replace("# why it is brief\n", ""), "a comment lost"),
        (NEAT.replace("      The throttle stays open.\n", ""), "prose"),
        (NEAT.replace("set_rod:", "set_the_rod:"), "a name"),
        ("a: [", "not YAML"),
    ],
)
def test_what_says_something_else_is_seen(other: str, why: str) -> None:
    assert other != NEAT
    assert not layout.same("area", "areas/linkage.yaml", MESSY, other), why


def test_the_order_of_outcomes_is_part_of_what_is_said() -> None:
    text = FILES["checks/linkage.yaml"]
    one, other = "      right: Between the limits.\n", "      low: Below the limits.\n"
    assert one + other in text
    assert not layout.same("checks", "checks/linkage.yaml", text, text.replace(one + other, other + one))
    assert layout.tidied("checks", "checks/linkage.yaml", text) is not None


@pytest.mark.parametrize("file", some(sorted(p.relative_to(SHIPPED).as_posix() for p in SHIPPED.rglob("*.yaml")), 3))
def test_the_shipped_files_are_as_good_as_tidy(file: str) -> None:
    """Laying them out moves next to nothing, says the same, and a second time changes nothing."""
    text = (SHIPPED / file).read_text(encoding="utf-8")
    found = layout.tidied(kind_of(file), file, text)
    assert found is not None
    assert layout.same(kind_of(file), file, text, found)
    assert layout.tidied(kind_of(file), file, found) == found
    changed = set(found.splitlines()) ^ set(text.splitlines())
    assert len(changed) <= 2


# ---- against the reader, and a library that keeps comments --------------------------------------------------------


def without_places(value: object) -> object:
    """A value of the catalogue as plain values, without lines, and prose with single blanks."""
    if isinstance(value, Place):
        return None
    if dataclasses.is_dataclass(value):
        return {field.name: without_places(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return [(key, without_places(each)) for key, each in value.items()]
    if isinstance(value, (tuple, list)):
        return [without_places(each) for each in value]
    return " ".join(value.split()) if isinstance(value, str) else value


def shuffled(text: str, draw: Any) -> str:
    """The text with the keys of each item in another order, a comment above some of them."""
    import yaml

    tree = yaml.compose(text, Loader=yaml.SafeLoader)
    lines = text.splitlines()
    for key, items in reversed(tree.value):
        if not isinstance(items, yaml.MappingNode) or items.flow_style:
            continue
        for _, item in reversed(items.value):
            if not isinstance(item, yaml.MappingNode) or item.flow_style:
                continue
            starts = [name.start_mark.line for name, _ in item.value]
            end = next(
                (at for at in range(starts[-1] + 1, len(lines)) if not lines[at].startswith("     ")), len(lines)
            )
            chunks = [lines[a:b] for a, b in zip(starts, [*starts[1:], end], strict=True)]
            order = draw(st.permutations(range(len(chunks))))
            marked = draw(st.sets(st.sampled_from(range(len(chunks)))))
            mixed = [
                [f"    # of {key.value} {item.start_mark.line} {at}"] * (at in marked) + chunks[at] for at in order
            ]
            lines[starts[0] : end] = [line for chunk in mixed for line in chunk]
    return "\n".join(lines) + "\n"


@settings(max_examples=25)
@given(st.data(), st.sampled_from(["areas/linkage.yaml", "checks/linkage.yaml", "complaints.yaml", "features.yaml"]))
def test_shuffled_files_come_back_with_their_comments(tmp_path_factory: Any, data: st.DataObject, file: str) -> None:
    kind = kind_of(file)
    neat = layout.tidied(kind, file, FILES[file])
    assert neat is not None
    mixed = shuffled(FILES[file], data.draw)
    found = layout.tidied(kind, file, mixed)
    assert found is not None
    assert [line for line in found.splitlines() if "# of" not in line] == neat.splitlines()
    above = {line: mixed.splitlines()[at + 1] for at, line in enumerate(mixed.splitlines()) if "# of" in line}
    later = found.splitlines()
    assert {line: later[at + 1] for at, line in enumerate(later) if "# of" in line} == above, (
        "a comment stays with its key"
    )
    assert layout.tidied(kind, file, found) == found
    folder = tmp_path_factory.mktemp("k")
    before = read_folder(write(folder, {file: mixed})).catalogue
    after = read_folder(write(folder, {file: found})).catalogue
    assert before is not None
    assert after is not None
    ignored = {"fingerprint"}
    for field in dataclasses.fields(before):
        if field.name not in ignored:
            assert without_places(getattr(before, field.name)) == without_places(getattr(after, field.name))


@pytest.mark.skipif(importlib.util.find_spec("ruamel.yaml") is None, reason="ruamel.yaml is not installed")
@pytest.mark.parametrize("file", some(sorted(p.relative_to(SHIPPED).as_posix() for p in SHIPPED.glob("*/l*.yaml")), 3))
def test_a_library_that_keeps_comments_reads_the_same_before_and_after(file: str) -> None:
    from ruamel.yaml import YAML

    text = (SHIPPED / file).read_text(encoding="utf-8")
    found = layout.tidied(kind_of(file), file, text)
    assert found is not None
    trip = YAML(typ="rt")
    trip.preserve_quotes = True
    trip.width = 4096
    trip.indent(mapping=2, sequence=4, offset=2)
    again = io.StringIO()
    trip.dump(trip.load(found), again)
    assert again.getvalue() == found, "what is tidy goes through the library unchanged, comments too"
    assert trip.load(found) == trip.load(text)


# ---- the command -------------------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The small knowledge, tidy."""
    found = write(tmp_path / "knowledge")
    monkeypatch.chdir(tmp_path)
    assert main(["knowledge", "tidy"]) == 0
    return found


def test_checking_names_the_files_and_writes_nothing(folder: Path, capsys: Captured) -> None:
    path = folder / "areas/linkage.yaml"
    path.write_text(MESSY)
    capsys.readouterr()
    assert main(["knowledge", "tidy", "--check"]) == 1
    assert (
        capsys.readouterr().out == f"knowledge/areas/linkage.yaml: not tidy\n{len(FILES) - 1} files tidy, 1 not tidy.\n"
    )
    assert main(["knowledge", "tidy", "--diff"]) == 1
    assert "+    title: Set the rod\n" in capsys.readouterr().out
    assert path.read_text() == MESSY
    assert main(["knowledge", "tidy", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {
        "not_read": [],
        "not_tidy": ["areas/linkage.yaml"],
        "version": 1,
        "written": True,
    }
    assert path.read_text() == NEAT
    assert main(["knowledge", "tidy", "--check"]) == 0


def test_line_ends_and_the_byte_order_mark_become_the_plain_ones(folder: Path) -> None:
    path = folder / "areas/linkage.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + NEAT.replace("\n", "\r\n").encode())
    assert main(["knowledge", "tidy", str(path), "--check"]) == 1
    assert main(["knowledge", "tidy", str(path)]) == 0
    assert path.read_bytes() == NEAT.encode()


def test_a_file_that_cannot_be_read_is_left_alone(folder: Path, capsys: Captured) -> None:
    path = folder / "areas/linkage.yaml"
    for bad in (b"a: [", b"\xff\xfe", b"a: &b c\n", b""):
        path.write_bytes(bad)
        assert main(["knowledge", "tidy"]) == 1
        assert "knowledge/areas/linkage.yaml: left alone; hertzwright knowledge check says" in capsys.readouterr().out
        assert path.read_bytes() == bad


def test_permissions_stay_and_nothing_is_left_beside(folder: Path) -> None:
    path = folder / "areas/linkage.yaml"
    path.write_text(MESSY)
    path.chmod(0o640)
    assert main(["knowledge", "tidy"]) == 0
    assert path.stat().st_mode & 0o777 == 0o640
    assert [each.name for each in path.parent.iterdir()] == ["linkage.yaml"]


def test_a_link_out_of_the_folder_is_refused_and_one_inside_is_followed(folder: Path, capsys: Captured) -> None:
    outside = folder.parent / "outside.yaml"
    outside.write_text(MESSY)
    link = folder / "areas/linkage.yaml"
    link.unlink()
    link.symlink_to(outside)
    assert main(["knowledge", "tidy"]) == 2
    assert "knowledge/areas/linkage.yaml leads out of knowledge" in capsys.readouterr().err
    assert outside.read_text() == MESSY
    inside = folder / "linkage.txt"
    inside.write_text(MESSY)
    link.unlink()
    link.symlink_to(inside)
    assert main(["knowledge", "tidy"]) == 0
    assert link.is_symlink()
    assert inside.read_text() == NEAT


def test_a_text_that_would_say_something_else_is_never_written(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    path = folder / "areas/linkage.yaml"
    path.write_text(MESSY)
    monkeypatch.setattr(tidy.layout, "tidied", lambda kind, file, text: NEAT.replace("usually", "seldom"))
    assert main(["knowledge", "tidy", str(path)]) == 2
    assert "would say something else; nothing is written" in capsys.readouterr().err
    assert path.read_text() == MESSY


def test_the_shipped_knowledge_is_not_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["knowledge", "tidy"]) == 2
    assert "is not changed" in capsys.readouterr().err
