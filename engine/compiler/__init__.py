"""From the text of the knowledge files to checked values, the graph and its tables.

In: a folder of YAML files. Out: `Knowledge`, or a `KnowledgeError` with every problem at its line and column.
Inside, one way: source -> schema, names, rules -> builder -> catalogue -> graph -> knowledge.
Never: knows of a job, a set or a finding; writes a file.
"""

from . import schema, source
from .catalogue import Catalogue
from .completion import editor_schemas
from .drawing import Drawing
from .entries import SINGULAR, Entries, listed_names, pairs, table, text, value
from .features import read_features
from .graph import PROOF_RUN, Network
from .knowledge import Knowledge, drawing_of, load_knowledge
from .looks import drawn
from .model import (
    NO_FITS,
    Band,
    Case,
    Cause,
    Check,
    Complaint,
    Condition,
    Feature,
    Features,
    Fits,
    Phrase,
    Reading,
    Remedy,
    Retired,
    Source,
)
from .names import alternatives
from .numbers import NUMBER, number_of, parse_number
from .reader import FOLDERS, SINGLE, Readout, entries_of, read_folder
from .rules import OF_THE_WHOLE
from .setting_step import SettingRules, SettingStep
from .source import SIZE_LIMIT, MappingNode, Node, ScalarNode, SequenceNode, SourceFile, parse, plain, read
from .typed import SLOT, Typed, spoken
from .unit import Prediction, ShortDrillPlan, Unit, UnitAnswer, UnitCurve, WorkedExample
from .units import spellings_of, unit_factor
from .work_model import Above, Adjuster, AdjusterPair, Costs, DangerLimit, OrderRule, Spread, Tolerance, Tool
from .writing import LONGEST, drawn_at, two_sentences

__all__ = [
    "FOLDERS",
    "LONGEST",
    "NO_FITS",
    "NUMBER",
    "OF_THE_WHOLE",
    "PROOF_RUN",
    "SINGLE",
    "SINGULAR",
    "SIZE_LIMIT",
    "SLOT",
    "Above",
    "Adjuster",
    "AdjusterPair",
    "Band",
    "Case",
    "Catalogue",
    "Cause",
    "Check",
    "Complaint",
    "Condition",
    "Costs",
    "DangerLimit",
    "Drawing",
    "Entries",
    "Feature",
    "Features",
    "Fits",
    "Knowledge",
    "MappingNode",
    "Network",
    "Node",
    "OrderRule",
    "Phrase",
    "Prediction",
    "Reading",
    "Readout",
    "Remedy",
    "Retired",
    "ScalarNode",
    "SequenceNode",
    "SettingRules",
    "SettingStep",
    "ShortDrillPlan",
    "Source",
    "SourceFile",
    "Spread",
    "Tolerance",
    "Tool",
    "Typed",
    "Unit",
    "UnitAnswer",
    "UnitCurve",
    "WorkedExample",
    "alternatives",
    "drawing_of",
    "drawn",
    "drawn_at",
    "editor_schemas",
    "entries_of",
    "listed_names",
    "load_knowledge",
    "number_of",
    "pairs",
    "parse",
    "parse_number",
    "plain",
    "read",
    "read_features",
    "read_folder",
    "schema",
    "source",
    "spellings_of",
    "spoken",
    "table",
    "text",
    "two_sentences",
    "unit_factor",
    "value",
]
