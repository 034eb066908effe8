"""Everything read from or written to a disk: the store, job files, facts files, exports, the one writer.

In: paths and values. Out: values and paths, or an error that names both. Never: shows anything on a screen.
"""

from . import export, facts, input_file, journal, output_file, store, whole_file
from .facts import FactsFile, job_of, read_facts, record_absent, record_fact
from .journal import Journal
from .output_file import Outfile
from .set_option import UsageError, add_features, done_before_given, features_given, stands_given, without_given

__all__ = [
    "FactsFile",
    "Journal",
    "Outfile",
    "UsageError",
    "add_features",
    "done_before_given",
    "export",
    "facts",
    "features_given",
    "input_file",
    "job_of",
    "journal",
    "output_file",
    "read_facts",
    "record_absent",
    "record_fact",
    "stands_given",
    "store",
    "whole_file",
    "without_given",
]
