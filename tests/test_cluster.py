"""Work that is given to a cluster of the `distributed` library: a real one on this machine, with processes of its own."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from hertzwright.cli.app import main
from hertzwright.cli.workshop import workers

import small_knowledge as small

distributed = pytest.importorskip("distributed", reason="the extra `cluster` is not installed")
pytestmark = [pytest.mark.nightly, pytest.mark.filterwarnings("ignore")]
Captured = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    cluster = distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    )
    try:
        yield cluster.scheduler_address
    finally:
        cluster.close()


def test_jobs_are_the_same_on_a_cluster_as_here(address: str, tmp_path: Path, capsys: Captured) -> None:
    folder = str(small.write(tmp_path / "knowledge"))
    words = ["knowledge", "rehearse", "--jobs", "7", "--sets", "knowledge", "--json", "--knowledge", folder]
    told = []
    for how in (["--workers", "1"], ["--workers", "2"], ["--dask", address]):
        assert main([*words, *how]) == 0
        told.append(capsys.readouterr().out)
    assert json.loads(told[0])["worlds"]["knowledge"]["suggestions"]["minutes"]["mean"] > 0.0
    assert told[0] == told[1] == told[2]


def test_a_comparison_is_the_same_on_a_cluster_as_here(address: str, tmp_path: Path, capsys: Captured) -> None:
    texts = dict(small.FILES)
    old = str(small.write(tmp_path / "old", texts))
    edit = texts["areas/linkage.yaml"].replace("stop_gap: {none: usually}", "stop_gap: {none: very_seldom}")
    new = str(small.write(tmp_path / "new", {**texts, "areas/linkage.yaml": edit}))
    told = []
    for how in (["--workers", "1"], ["--dask", address]):
        main(["knowledge", "compare", old, new, "--jobs", "6", "--deepen", "0", "--json", *how])
        told.append(capsys.readouterr().out)
    assert [each["count"] for each in json.loads(told[0])["jobs"]] == [6, 6]
    assert told[0] == told[1]


def test_a_cluster_that_is_not_there_is_said(monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    monkeypatch.setattr(workers, "_WAIT", "1s")
    assert main(["knowledge", "rehearse", "--jobs", "1", "--dask", "tcp://127.0.0.1:9"]) == 2
    assert 'no cluster at "tcp://127.0.0.1:9"' in capsys.readouterr().err
    assert main(["knowledge", "rehearse", "--jobs", "1", "--dask", "nonsense://x"]) == 2
    assert 'no cluster at "nonsense://x"' in capsys.readouterr().err
