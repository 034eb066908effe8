"""Everything a knowledge base says, as one frozen value.

Purpose: the value that the reader builds and the rest of the engine looks things up in.
Law: no file format is known here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from . import model, setting_step, work_model
from .drawing import Drawing
from .typed import Typed
from .unit import Unit


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Everything the knowledge base says, each kind as a mapping from id to value, in the order written.

    `fingerprint` is the SHA-256, in hexadecimal, of all files but solved cases, phrases and units, less comments, empty
    lines and blanks at line ends: it stays the same when only those change.
    """

    causes: Mapping[str, model.Cause]
    checks: Mapping[str, model.Check]
    complaints: Mapping[str, model.Complaint]
    remedies: Mapping[str, model.Remedy]
    cautions: Mapping[str, work_model.Caution]
    fittings: Mapping[str, work_model.Fitting]
    closing: Mapping[str, work_model.ClosingPoint]
    states: Mapping[str, work_model.SetUpState]
    costs: work_model.Costs
    order: Mapping[str, work_model.OrderRule]
    from_the_top: Mapping[str, work_model.Stage]
    tolerances: Mapping[str, work_model.Tolerance]
    danger: Mapping[str, work_model.DangerLimit]
    adjusters: Mapping[str, work_model.Adjuster]
    pairs: Mapping[str, work_model.AdjusterPair]
    drawings: Mapping[str, Drawing]
    units: Mapping[str, Unit]
    setting: Mapping[str, setting_step.SettingStep]
    setting_rules: setting_step.SettingRules
    spreads: Mapping[str, work_model.Spread]
    shares: Mapping[str, work_model.Share]
    made_up: Mapping[str, work_model.Share]
    combinations: Mapping[str, work_model.Combination]
    slips: Mapping[str, work_model.Slip]
    features: Mapping[str, model.Feature]
    words: Mapping[str, model.Word]
    cases: Mapping[str, model.Case]
    same_words: Mapping[str, tuple[str, ...]]
    tools: Mapping[str, work_model.Tool]
    phrases: Mapping[str, model.Phrase]
    typed: Typed
    sources: Mapping[str, model.Source]
    areas: Mapping[str, str]
    fingerprint: str
