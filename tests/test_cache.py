"""Compiled knowledge: used when right, never when stale or damaged, safe to delete."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hertzwright.engine import Job, load_knowledge
from hertzwright.engine.cache import fetch, key_of

from small_knowledge import FILES, write


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write(tmp_path / "knowledge", FILES)


def test_what_is_fetched_is_what_was_read(folder: Path, tmp_path: Path) -> None:
    read = load_knowledge(folder)
    load_knowledge(folder, tmp_path / "cache")
    kept = load_knowledge(folder, tmp_path / "cache")
    assert kept.catalogue == read.catalogue
    assert kept.network == read.network
    assert kept.fingerprint == read.fingerprint


def test_the_shipped_knowledge_reasons_alike_from_the_cache(tmp_path: Path) -> None:
    read, _ = load_knowledge(), load_knowledge(cache=tmp_path)
    kept = load_knowledge(cache=tmp_path)
    for knowledge in (read, kept):
        job = Job(knowledge)
        job.record("hunts_no_load", "present")
        job.record("linkage_feel", "loose")
        if knowledge is read:
            before = job.posterior()
        else:
            assert job.posterior() == before


def test_a_changed_file_is_read_afresh(folder: Path, tmp_path: Path) -> None:
    before = load_knowledge(folder, tmp_path / "cache")
    path = folder / "areas" / "linkage.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("Rod too long", "Rod far too long"), encoding="utf-8")
    after = load_knowledge(folder, tmp_path / "cache")
    assert after.fingerprint != before.fingerprint
    assert any("far too long" in cause.title for cause in after.causes.values())


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str, bytes]:
    """A cache that holds one compilation, its key, and the bytes of the sound file."""
    place = tmp_path_factory.mktemp("kept")
    folder, cache = write(place / "knowledge", FILES), place / "cache"
    load_knowledge(folder, cache)
    (file,) = cache.glob("knowledge-*.json")
    return file, key_of(folder), file.read_bytes()


@given(data=st.data())
def test_a_damaged_file_is_never_used(kept: tuple[Path, str, bytes], data: st.DataObject) -> None:
    file, key, sound = kept
    content = bytearray(sound)
    if data.draw(st.booleans(), label="cut"):
        content = content[: data.draw(st.integers(0, len(content) - 1), label="length")]
    else:
        at = data.draw(st.integers(0, len(content) - 1), label="at")
        content[at] ^= data.draw(st.integers(1, 255), label="bits")
    file.write_bytes(bytes(content))
    assert fetch(file.parent, key) is None
    file.write_bytes(sound)
    assert fetch(file.parent, key) is not None, "only the damage was the reason"


def test_a_damaged_file_is_written_anew(folder: Path, tmp_path: Path) -> None:
    cache = tmp_path / "cache"
    load_knowledge(folder, cache)
    (file,) = cache.glob("knowledge-*.json")
    sound = file.read_bytes()
    file.write_bytes(sound[:-1])
    assert load_knowledge(folder, cache).causes
    assert file.read_bytes() == sound


def test_a_cache_that_cannot_be_written_is_no_error(folder: Path, tmp_path: Path) -> None:
    blocked = tmp_path / "blocked"
    blocked.write_text("a file where a folder should be", encoding="utf-8")
    assert load_knowledge(folder, blocked / "cache").causes


def test_old_compilations_are_cleared_away(folder: Path, tmp_path: Path) -> None:
    path = folder / "areas" / "linkage.yaml"
    text = path.read_text(encoding="utf-8")
    for number in range(7):
        path.write_text(f"{text}# edit {number}\n", encoding="utf-8")
        load_knowledge(folder, tmp_path / "cache")
    assert len(list((tmp_path / "cache").glob("knowledge-*.json"))) == 4
