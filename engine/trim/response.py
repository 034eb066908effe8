"""What turning the adjusters does to the readings of one set, learned from trial to trial.

Purpose: a straight-line model about the place of the last trial, reading = value + slopes * turns, that starts from
what governor theory says a turn does and is corrected by every trial.
Law: pure arithmetic on tuples; the readings of one trial are taken in one at a time, which is the same as taking them
in together since their meters err independently. A measurement never makes the variance of anything larger.
Method: recursive least squares in its Bayesian form (a Kalman filter whose state is the values and the slopes). A
secant or Broyden step takes every slope from the readings alone: it needs trials that do nothing but probe, and it
believes the noise of the meter. Here the slopes begin as the knowledge gives them, with their scatter, so that the
first step is already a good one, and a reading counts for as much as its noise allows. A line that bends is let bend:
moving away from a trial makes the slopes less certain, by `bend` for each turn.
Source: R. E. Kalman 1960 and ridge regression as an equal of a Gaussian prior, textbook (from memory). That the slopes
of the knowledge hold what the balance of weights and spring gives is tested.
Not here: where the line may be used (`search`), and whether the readings fit any line at all (`anomalies`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

Vector = tuple[float, ...]
Matrix = tuple[Vector, ...]


@dataclass(frozen=True, slots=True)
class Slope:
    """Prior of one adjuster: Hz a turn for each reading, the part of it common to all that the turn itself is unsure by
    (thread, spring rate), and what each reading may be off for itself, Hz a turn."""

    per_turn: Vector
    scale: float
    scatter: Vector


@dataclass(frozen=True, slots=True)
class Response:
    """The line about a place. The state is, reading by reading, its value there and its slope for each adjuster.

    at: turns. mean, covariance: of the state, in Hz and Hz a turn. bend: Hz a turn, by which a slope may have changed
    after one turn.
    """

    at: Vector
    readings: int
    mean: Vector
    covariance: Matrix
    bend: float = 0.0

    @property
    def width(self) -> int:
        """State of one reading: its value and its slopes."""
        return 1 + len(self.at)

    def slope(self, reading: int, adjuster: int) -> tuple[float, float]:
        """Hz a turn, and its standard deviation."""
        place = reading * self.width + 1 + adjuster
        return self.mean[place], math.sqrt(self.covariance[place][place])

    def predict(self, place: Sequence[float]) -> tuple[Vector, Matrix]:
        """Mean and covariance of the readings' true values at a place."""
        moved = self.moved(place)
        spots = [reading * moved.width for reading in range(moved.readings)]
        return (
            tuple(moved.mean[spot] for spot in spots),
            tuple(tuple(moved.covariance[one][other] for other in spots) for one in spots),
        )

    def moved(self, place: Sequence[float]) -> Response:
        """The same knowledge about another place. Slopes change on the way by `bend` a turn, and count half of it."""
        step = [to - here for to, here in zip(place, self.at, strict=True)]
        if not any(step):
            return self
        width, size = self.width, len(self.mean)
        drift = (self.bend * math.hypot(*step)) ** 2
        mean = list(self.mean)
        rows = [list(row) for row in self.covariance]
        for start in range(0, size, width):
            mean[start] += math.fsum(self.mean[start + 1 + k] * step[k] for k in range(len(step)))
            # value += slopes * step, on rows and then on columns
            rows[start] = [
                rows[start][c] + math.fsum(step[k] * rows[start + 1 + k][c] for k in range(len(step)))
                for c in range(size)
            ]
        for start in range(0, size, width):
            for row in rows:
                row[start] += math.fsum(row[start + 1 + k] * step[k] for k in range(len(step)))
        for start in range(0, size, width):
            rows[start][start] += 0.25 * drift * math.fsum(part * part for part in step)
            for k, part in enumerate(step):
                rows[start + 1 + k][start + 1 + k] += drift
                rows[start][start + 1 + k] += 0.5 * drift * part
                rows[start + 1 + k][start] += 0.5 * drift * part
        return replace(self, at=tuple(place), mean=tuple(mean), covariance=tuple(map(tuple, rows)))

    def learned(self, values: Sequence[float | None], noise: Sequence[float]) -> Response:
        """After readings at this place; None for one that was not taken. noise: standard deviation of each, Hz."""
        mean, rows = list(self.mean), [list(row) for row in self.covariance]
        for reading, (value, deviation) in enumerate(zip(values, noise, strict=True)):
            if value is None:
                continue
            spot = reading * self.width
            column = [row[spot] for row in rows]
            total = column[spot] + deviation * deviation
            if total <= 0.0:
                continue
            off = value - mean[spot]
            mean = [old + part / total * off for old, part in zip(mean, column, strict=True)]
            rows = [
                [old - one * other / total for old, other in zip(row, column, strict=True)]
                for row, one in zip(rows, column, strict=True)
            ]
        return replace(self, mean=tuple(mean), covariance=tuple(map(tuple, rows)))


def prior(
    at: Sequence[float], slopes: Sequence[Slope], readings: int, bend: float, anywhere: float = 100.0
) -> Response:
    """What is believed before any reading: slopes as given, values anywhere within `anywhere` Hz."""
    width = 1 + len(slopes)
    size = readings * width
    mean = [0.0] * size
    rows = [[0.0] * size for _ in range(size)]
    for one in range(readings):
        rows[one * width][one * width] = anywhere * anywhere
        for k, slope in enumerate(slopes):
            place = one * width + 1 + k
            mean[place] = slope.per_turn[one]
            rows[place][place] += slope.scatter[one] ** 2
            for other in range(readings):
                rows[place][other * width + 1 + k] += slope.scale**2 * slope.per_turn[one] * slope.per_turn[other]
    return Response(tuple(at), readings, tuple(mean), tuple(map(tuple, rows)), bend)
