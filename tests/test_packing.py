"""Compiled knowledge sent to another process is the same knowledge."""

from __future__ import annotations

import json
import pickle

import pytest

from hertzwright.engine import Job, load_knowledge
from hertzwright.engine.compiler.packing import packed, unpacked


def test_what_is_sent_is_what_was_read() -> None:
    read = load_knowledge()
    sent = pickle.loads(pickle.dumps(read))
    assert sent.catalogue == read.catalogue
    assert sent.network == read.network
    assert sent.fingerprint == read.fingerprint
    told = []
    for knowledge in (read, sent):
        job = Job(knowledge)
        job.record("hunts_no_load", "present")
        job.record("linkage_feel", "loose")
        told.append(job.posterior())
    assert told[0] == told[1]


def test_it_is_plain_json() -> None:
    knowledge = load_knowledge()
    assert json.loads(packed(knowledge.catalogue, knowledge.network))


@pytest.mark.parametrize("body", [b"", b"{}", b"[]", b"[1, 2]", b'{"Cause": []}', b'{"os": []}', b"\xff"])
def test_anything_else_is_refused(body: bytes) -> None:
    with pytest.raises((ValueError, KeyError, TypeError)):
        unpacked(body)
