"""Frequency over time: logs and recordings judged against noise.

In: a CSV file or a WAV file. Out: stretches, swings, load steps, each with its doubt, and what they say to checks.
Never: tells what the record is too slow or too short to tell.
"""

from .analysis import BAND_PERCENT, LoadStep, SteadyStretch, TraceReport, analyse
from .findings import offers
from .logfile import read_trace
from .recording import read_recording
from .samples import FrequencyRecord
from .swing import FALSE_ALARM

__all__ = [
    "BAND_PERCENT",
    "FALSE_ALARM",
    "FrequencyRecord",
    "LoadStep",
    "SteadyStretch",
    "TraceReport",
    "analyse",
    "offers",
    "read_recording",
    "read_trace",
]
