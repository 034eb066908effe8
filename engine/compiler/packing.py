"""Compiled knowledge as bytes, to be sent to another process.

Purpose: `packed` makes one line of plain JSON of a catalogue and its tables, `unpacked` makes them of it again.
Law: what comes out is equal to what went in; nothing in it can run. It is believed as it comes, so it is for processes
of one's own and never kept in a file: a file that somebody laid there would be believed as well.
Not here: reading the knowledge (see `reader`).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from inspect import getmembers, isclass
from types import MappingProxyType

from . import catalogue, drawing, graph, model, setting_step, typed, unit, work_model

_SHAPES = {
    name: kind
    for module in (model, work_model, setting_step, drawing, typed, unit, catalogue, graph)
    for name, kind in getmembers(module, isclass)
    if is_dataclass(kind) and kind.__module__ == module.__name__
}
_FIELDS = {name: tuple(field.name for field in fields(kind)) for name, kind in _SHAPES.items()}


def packed(known: catalogue.Catalogue, network: graph.Network) -> bytes:
    """Both as one line of plain JSON."""
    return json.dumps(_encode((known, network)), ensure_ascii=True, separators=(",", ":")).encode("ascii")


def unpacked(body: bytes) -> tuple[catalogue.Catalogue, graph.Network]:
    """What `packed` made. Raises ValueError, KeyError or TypeError for anything else."""
    found = _decode(json.loads(body))
    if isinstance(found, tuple) and len(found) == 2:
        known, network = found
        if isinstance(known, catalogue.Catalogue) and isinstance(network, graph.Network):
            return known, network
    raise ValueError("no compiled knowledge")


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
