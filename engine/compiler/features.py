"""The features of a set as somebody gives them: names and values read, defaults filled in.

Purpose: the one place where features are read, for a job, a facts file, a case and the features of a customer's set.
Law: an unknown name or value is an AnswerError that shows it and says what was expected.
Not here: which features there are (see the knowledge).
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping

from ..problems import AnswerError, listed, shown
from .model import Feature
from .numbers import NUMBER, number_of


def read_features(given: Mapping[str, object], known: Mapping[str, Feature]) -> dict[str, str | float]:
    """Features of a set with defaults filled in. Raises AnswerError on unknown names or values.

    known: feature id -> `model.Feature`.
    """
    features: dict[str, str | float] = {}
    for name, feature in known.items():
        features[name] = feature.default
    for name, value in given.items():
        wanted = known.get(str(name))
        if wanted is None:
            close = difflib.get_close_matches(str(name), list(known), 1)
            hint = f'; did you mean "{close[0]}"?' if close else f"; known are {listed(list(known))}"
            raise AnswerError(f'"{shown(str(name))}" is no feature of a set{hint}')
        features[wanted.id] = _feature_value(wanted.id, str(value).strip(), wanted)
    return features


def _feature_value(name: str, text: str, feature: Feature) -> str | float:
    if feature.kind == "choice":
        wanted = re.sub(r"[ \-]+", "_", text.lower())
        if wanted not in feature.choices:
            raise AnswerError(f'{name}: "{shown(text)}" is none of {listed(feature.choices)}')
        return wanted
    match = NUMBER.fullmatch(text)
    try:
        value = math.nan if match is None else number_of(match)
    except ValueError:
        value = math.nan
    unit = "" if match is None else match["rest"].strip().lower()
    unit = unit.removeprefix("\u00b0")
    if feature.unit == "ft" and unit in ("m", "metres", "meters"):
        value, unit = value / 0.3048, "ft"
    if feature.unit == "F" and unit == "c":
        value, unit = value * 9 / 5 + 32, "f"
    if math.isnan(value) or unit not in ("", feature.unit.lower()):
        raise AnswerError(f'{name}: "{shown(text)}" is not a number{f" in {feature.unit}" if feature.unit else ""}')
    if feature.choices and value not in [float(choice) for choice in feature.choices]:
        raise AnswerError(f'{name}: "{shown(text)}" is none of {listed(feature.choices)}')
    if not feature.lowest <= value <= feature.highest:
        limits = f"{feature.lowest:g} to {feature.highest:g} {feature.unit}".strip()
        raise AnswerError(f'{name}: "{shown(text)}" is outside {limits}')
    return value
