"""The figures of worked examples, computed by the functions of the program that a job uses.

Purpose: the name of a function and what it is given -> its result, to be held against what a unit says.
Law: nothing of the trade stands here: each name is a function of another room, or a reading of the simulated set of the
usual features. The result is rounded as it is written by whoever compares.
Not here: the examples themselves (knowledge/units.yaml).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from ..compiler import Knowledge, WorkedExample
from ..loadtest import derating, load
from ..problems import HertzwrightError, close_to, quoted
from ..readings import regulation
from ..simulated import Bench, choke_opening, equilibrium


class ExampleError(HertzwrightError):
    """A worked example that cannot be computed. The message names what is wrong."""


def _simulated(share: float) -> Callable[..., float]:
    def frequency(knowledge: Knowledge, **turns: float) -> float:
        """Hz of the usual simulated set with its adjusters turned; turns by the names of the adjusters."""
        bench = Bench(knowledge.features())
        for adjuster, turned in turns.items():
            bench = bench.turn(adjuster, turned)
        return bench.plant.hertz * equilibrium(bench.plant, share * bench.load).speed

    return frequency


def _choke_open_percent(knowledge: Knowledge, minutes: float) -> float:
    return 100.0 * choke_opening(Bench(knowledge.features()).plant.carburetor, minutes)


_OF_NUMBERS: Mapping[str, Callable[..., float]] = {
    "droop_percent": regulation.droop_percent,
    "speed_regulation_percent": regulation.speed_regulation_percent,
    "percent_of_rated": regulation.percent_of_rated,
    "frequency_of": regulation.frequency_of,
    "amps_per_leg": load.amps_per_leg,
    "neutral_of_two_legs": lambda leg_1, leg_2: load.neutral_amps((leg_1, leg_2)),
    "lost_to_height_percent": lambda altitude_ft: 100.0 * (1.0 - derating.three_percent_rule(altitude_ft)),
    # Correct by weight for gasoline, over the strength in times the correct one (general textbook value, from memory).
    "air_to_fuel": lambda strength: 14.7 / strength,
}
_OF_A_SET: Mapping[str, Callable[..., float]] = {
    "simulated_no_load": _simulated(0.0),
    "simulated_full_load": _simulated(1.0),
    "simulated_choke_open_percent": _choke_open_percent,
}


def computed(knowledge: Knowledge, example: WorkedExample) -> float:
    """The result of an example by the program's own function. Raises ExampleError for an unknown one or its values."""
    try:
        if example.by in _OF_A_SET:
            return _OF_A_SET[example.by](knowledge, **example.given)
        return _OF_NUMBERS[example.by](**example.given)
    except KeyError as missing:
        known = (*_OF_NUMBERS, *_OF_A_SET)
        name = str(missing.args[0]) if missing.args else example.by
        raise ExampleError(
            f"no function {quoted(name)}; {close_to(name, known, 'known are ' + ', '.join(known))}"
        ) from None
    except (TypeError, ValueError) as error:
        raise ExampleError(f"{example.by}: {error}") from None


def agrees(knowledge: Knowledge, example: WorkedExample) -> bool:
    """Whether what is written is the result, rounded to the places that are written."""
    places = len(example.gives.partition(".")[2])
    return f"{computed(knowledge, example):.{places}f}" == example.gives
