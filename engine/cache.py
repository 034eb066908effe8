"""Compiled knowledge on disk, so that a second start parses no YAML and builds no graph.

Purpose: `fetch` and `keep` a catalogue with its tables under a key made of the files' bytes and of the shape of the
values. Safe to delete at any time.
Law: a file that is stale, torn, damaged or made by another version is never used and never an error: the knowledge is
then read afresh. Plain JSON with a checksum: nothing in it can run.
Not here: where the folder is (the caller says), nor reading the knowledge (see `reader`).
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from inspect import getmembers, isclass
from pathlib import Path
from types import MappingProxyType

from . import catalogue, graph, model

FORMAT = 1
KEPT = 4
_SHAPES = {
    name: kind
    for module in (model, catalogue, graph)
    for name, kind in getmembers(module, isclass)
    if is_dataclass(kind) and kind.__module__ == module.__name__
}
_FIELDS = {name: tuple(field.name for field in fields(kind)) for name, kind in _SHAPES.items()}


def key_of(folder: Path) -> str:
    """Key of the knowledge in a folder: every .yaml file's name and bytes, the format and the shape of the values."""
    digest = hashlib.sha256(json.dumps([FORMAT, _FIELDS], sort_keys=True).encode())
    for path in sorted(folder.rglob("*.yaml")):
        if not path.is_file():  # a folder, a pipe: whatever it is, the reader of the files will say so
            continue
        content = path.read_bytes()
        digest.update(f"{path.relative_to(folder).as_posix()}\0{len(content)}\0".encode())
        digest.update(content)
    return digest.hexdigest()


def fetch(cache: Path, key: str) -> tuple[catalogue.Catalogue, graph.Network] | None:
    """What was kept under the key, or None."""
    try:
        head, _, body = _file(cache, key).read_bytes().partition(b"\n")
        if head.decode("ascii") != _head(key, body):
            return None
        return unpacked(body)
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


def keep(cache: Path, key: str, known: catalogue.Catalogue, network: graph.Network) -> None:
    """Keep it, in one move so that no reader sees half a file. A folder that cannot be written is no error."""
    body = packed(known, network)
    try:
        cache.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=cache, prefix=".writing-", delete=False) as file:
            file.write(_head(key, body).encode("ascii") + b"\n" + body)
        os.replace(file.name, _file(cache, key))
        old = sorted(cache.glob("knowledge-*.json"), key=lambda path: path.stat().st_mtime, reverse=True)[KEPT:]
        for path in old:
            path.unlink(missing_ok=True)
    except OSError:
        return


def packed(known: catalogue.Catalogue, network: graph.Network) -> bytes:
    """Both as one line of plain JSON, to be kept or sent to another process."""
    return json.dumps(_encode((known, network)), ensure_ascii=True, separators=(",", ":")).encode("ascii")


def unpacked(body: bytes) -> tuple[catalogue.Catalogue, graph.Network]:
    """What `packed` made. Raises ValueError, KeyError or TypeError for anything else."""
    found = _decode(json.loads(body))
    if isinstance(found, tuple) and len(found) == 2:
        known, network = found
        if isinstance(known, catalogue.Catalogue) and isinstance(network, graph.Network):
            return known, network
    raise ValueError("no compiled knowledge")


def _file(cache: Path, key: str) -> Path:
    return cache / f"knowledge-{key[:32]}.json"


def _head(key: str, body: bytes) -> str:
    return f"hertzwright {FORMAT} {key} {hashlib.sha256(body).hexdigest()}"


def _encode(value: object) -> object:
    if isinstance(value, model.Outcome):
        return {"Outcome": [str(value), value.brief]}
    if is_dataclass(value):
        name = type(value).__name__
        return {name: [_encode(getattr(value, field)) for field in _FIELDS[name]]}
    if isinstance(value, tuple):
        return [_encode(item) for item in value]
    if isinstance(value, Mapping):
        return {"": [[_encode(key), _encode(item)] for key, item in value.items()]}
    return value


def _decode(value: object) -> object:
    if isinstance(value, list):
        return tuple([_decode(item) for item in value])
    if isinstance(value, dict):
        ((name, content),) = value.items()
        if name == "":
            return MappingProxyType({_decode(key): _decode(item) for key, item in content})
        if name == "Outcome":
            return model.Outcome(*content)
        return _SHAPES[name](*[_decode(item) for item in content])
    return value
