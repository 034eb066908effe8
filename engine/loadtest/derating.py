"""Power that altitude and heat leave to a naturally aspirated engine.

Purpose: each published rule under its own name, so that their disagreement is seen and not averaged away.
Law: a factor is site power over rated power, before any cap; `available` never gives more than the rating.
Sources: each rule names its own, see `RULES`. Standard atmosphere: ICAO and US Standard Atmosphere 1976 constants.
Not checked here: wear, fuel, a jet that was never changed for the height, turbocharged engines.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from ..problems import AnswerError, close_to, quoted

METRES_PER_FOOT = 0.3048
# ICAO and US Standard Atmosphere 1976: sea level, lapse in the lowest layer, exponent g/(R L), gas constant of dry air.
SEA_LEVEL_KELVIN = 288.15
SEA_LEVEL_KPA = 101.325
LAPSE_KELVIN_PER_METRE = 0.0065
PRESSURE_EXPONENT = 5.25588
GAS_CONSTANT = 287.053
_LOWEST_LAYER_METRES = 11_000.0

DEFAULT_RULE = "sae_j1349"
WHY_DEFAULT = (
    "SAE J1349 is the default because it counts pressure and heat together, was made for spark-ignition engines, "
    "and lies between the published rules; it assumes 85 percent mechanical efficiency."
)


@dataclass(frozen=True, slots=True)
class SiteAir:
    """The standard atmosphere at a height: degrees Celsius, kPa, kg/m3, density over that at sea level."""

    celsius: float
    kilopascals: float
    density: float
    density_ratio: float


@dataclass(frozen=True, slots=True)
class Site:
    """Where the set stands. `kilopascals` is the true (station) barometer; without it the standard atmosphere counts.

    `humidity` is relative, 0 to 1; None leaves it to the rule (J1349: dry air, ISO 3046-1: its reference of 0.30).
    """

    altitude_ft: float
    temperature_f: float
    kilopascals: float | None = None
    humidity: float | None = None

    @property
    def celsius(self) -> float:
        return (self.temperature_f - 32.0) * 5.0 / 9.0

    @property
    def pressure(self) -> float:
        """Station pressure in kPa."""
        return self.kilopascals if self.kilopascals is not None else standard_atmosphere(self.altitude_ft).kilopascals


@dataclass(frozen=True, slots=True)
class Derating:
    """What a rule says of a site. `factor` is site power over rated power, above 1 where the air is good."""

    rule: str
    title: str
    source: str
    factor: float
    note: str = ""

    @property
    def usable(self) -> float:
        """The factor, never above 1: a rating is not raised by cold air."""
        return min(1.0, self.factor)


@dataclass(frozen=True, slots=True)
class DeratingRule:
    """A derating rule: what it is called, where it comes from, what it leaves out, and the rule itself."""

    id: str
    title: str
    source: str
    note: str
    factor: Callable[[Site], float]


def standard_atmosphere(altitude_ft: float) -> SiteAir:
    """Temperature, pressure and density of the standard atmosphere.

    altitude_ft: geopotential feet, up to 36,089 (the lowest layer). Raises ValueError outside -5,000 ft to there.
    """
    metres = altitude_ft * METRES_PER_FOOT
    if not -1524.0 <= metres <= _LOWEST_LAYER_METRES:
        raise ValueError(f"{altitude_ft:g} ft; expected -5000 to 36089 ft")
    kelvin = SEA_LEVEL_KELVIN - LAPSE_KELVIN_PER_METRE * metres
    kilopascals = SEA_LEVEL_KPA * (kelvin / SEA_LEVEL_KELVIN) ** PRESSURE_EXPONENT
    density = kilopascals * 1000.0 / (GAS_CONSTANT * kelvin)
    at_sea = SEA_LEVEL_KPA * 1000.0 / (GAS_CONSTANT * SEA_LEVEL_KELVIN)
    return SiteAir(kelvin - 273.15, kilopascals, density, density / at_sea)


def vapour_pressure(celsius: float) -> float:
    """Saturation pressure of water vapour in kPa (Magnus form, from memory; within 0.3 % from 0 to 50 C)."""
    return 0.61094 * math.exp(17.625 * celsius / (celsius + 243.04))


def three_percent_rule(altitude_ft: float) -> float:
    """3 percent per 1000 ft above 500 ft. Source: introductory agricultural engineering textbook, engine power."""
    return 1.0 - 0.03 * max(0.0, altitude_ft - 500.0) / 1000.0


def military_2kw_losses(altitude_ft: float, celsius: float) -> tuple[float, float]:
    """Losses by altitude and by heat, as fractions of the rating.

    1.3 percent per 328 ft above 4000 ft, and 3 percent per 10 C above 35 C. Source: TM 9-6115-673-13&P, Table 2-3.
    Its print equates 10 C with 50 F, which as a difference is 18 F; the Celsius form counts.
    """
    return 0.013 * max(0.0, altitude_ft - 4000.0) / 328.0, 0.03 * max(0.0, celsius - 35.0) / 10.0


def barometer_rule(altitude_m: float, ground_cm_hg: float = 76.0) -> float:
    """Power in proportion to the barometer, which falls 2.54 cm Hg for each 274 m.

    Source: Keswani, Internal Combustion Engines, Example 9.16.
    """
    return (ground_cm_hg - 2.54 * altitude_m / 274.0) / ground_cm_hg


def rule_of_thumb(altitude_ft: float, fahrenheit: float) -> float:
    """3.5 percent per 1000 ft and 1 percent per 10 F above 60 F. From memory: a common rule of thumb."""
    return 1.0 - 0.035 * max(0.0, altitude_ft) / 1000.0 - 0.01 * max(0.0, fahrenheit - 60.0) / 10.0


def sae_j1349_factor(dry_kpa: float, celsius: float) -> float:
    """Correction factor CF of SAE J1349, June 1990: rated power = CF x site power.

    dry_kpa: pressure less water vapour; reference 99 kPa dry and 25 C, 85 percent mechanical efficiency.
    Raises ValueError for a pressure that cannot be.
    """
    if not dry_kpa > 0.0:
        raise ValueError(f"pressure of {dry_kpa:g} kPa; expected more than 0")
    return 1.18 * (99.0 / dry_kpa) * math.sqrt((celsius + 273.0) / 298.0) - 0.18


@dataclass(frozen=True, slots=True)
class IsoPower:
    """ISO 3046-1: ratio of indicated power `k`, power adjustment `alpha`, fuel consumption adjustment `beta`."""

    k: float
    alpha: float
    beta: float


def iso_3046_1(
    site_kpa: float,
    site_kelvin: float,
    site_humidity: float,
    site_saturation_kpa: float,
    mechanical_efficiency: float = 0.85,
    m: float = 1.0,
    n: float = 0.5,
    a: float = 1.0,
    reference_saturation_kpa: float = 3.2,
) -> IsoPower:
    """Site power by ISO 3046-1, reference 100 kPa, 298 K and 30 percent relative humidity.

    Pressures in kPa, temperatures in K, humidity 0 to 1. m = 1, n = 0.5 are for naturally aspirated spark ignition
    (from memory); Mathur and Sharma, Internal Combustion Engine, Example 27.1 has m = 1, n = 0.75 for a diesel.
    Raises ValueError for conditions outside the formula.
    """
    dry_site = site_kpa - a * site_humidity * site_saturation_kpa
    dry_reference = 100.0 - a * 0.30 * reference_saturation_kpa
    if min(dry_site, dry_reference, site_kelvin) <= 0.0 or not 0.0 < mechanical_efficiency <= 1.0:
        raise ValueError("conditions outside the formula of ISO 3046-1")
    k = (dry_site / dry_reference) ** m * (298.0 / site_kelvin) ** n
    alpha = k - 0.7 * (1.0 - k) * (1.0 / mechanical_efficiency - 1.0)
    return IsoPower(k, alpha, k / alpha if alpha else math.inf)


def _military(site: Site) -> float:
    return 1.0 - math.fsum(military_2kw_losses(site.altitude_ft, site.celsius))


def _barometer(site: Site) -> float:
    return barometer_rule(site.altitude_ft * METRES_PER_FOOT)


def _sae(site: Site) -> float:
    dry = site.pressure - (site.humidity or 0.0) * vapour_pressure(site.celsius)
    return 1.0 / sae_j1349_factor(dry, site.celsius)


def _iso(site: Site) -> float:
    humidity = 0.30 if site.humidity is None else site.humidity
    return iso_3046_1(site.pressure, site.celsius + 273.0, humidity, vapour_pressure(site.celsius)).alpha


RULES: Mapping[str, DeratingRule] = {
    rule.id: rule
    for rule in (
        DeratingRule("sae_j1349", "SAE J1349, June 1990 form", "SAE J1349, as quoted on public pages",
             "counts pressure and heat; assumes 85 percent mechanical efficiency", _sae),
        DeratingRule("iso_3046_1", "ISO 3046-1", "Mathur and Sharma, Internal Combustion Engine, Example 27.1",
             "counts pressure, heat and humidity; exponent for spark ignition from memory", _iso),
        DeratingRule("three_percent", "3 % per 1000 ft above 500 ft", "introductory agricultural engineering textbook",
             "heat is not counted", lambda site: three_percent_rule(site.altitude_ft)),
        DeratingRule("military_2kw", "Military 2 kW table", "TM 9-6115-673-13&P, Table 2-3",
             "begins at 4000 ft and at 95 F; made for one 2 kW set", _military),
        DeratingRule("barometer", "Power in proportion to the barometer",
        "Keswani, Internal Combustion Engines, Example 9.16",
             "heat is not counted", _barometer),
        DeratingRule("rule_of_thumb", "3.5 % per 1000 ft and 1 % per 10 F above 60 F", "from memory",
             "the most cautious with heat", lambda site: rule_of_thumb(site.altitude_ft, site.temperature_f)),
        DeratingRule("none", "No derating", "nameplate", "altitude and heat are not counted", lambda site: 1.0),
    )
}  # fmt: skip


def derate(site: Site, rule: str = DEFAULT_RULE) -> Derating:
    """What a rule leaves of the rating at a site.

    rule: id in `RULES`. Raises AnswerError for an unknown one or a site outside its reach.
    """
    found = RULES.get(rule)
    if found is None:
        hint = close_to(rule, RULES)
        raise AnswerError(f"no derating rule {quoted(rule)}; {hint or 'known are ' + ', '.join(RULES)}")
    try:
        factor = found.factor(site)
    except ValueError as error:
        raise AnswerError(f"{found.title}: {error}") from None
    if not factor > 0.0:
        raise AnswerError(f"{found.title} leaves nothing at {site.altitude_ft:g} ft and {site.temperature_f:g} F")
    return Derating(found.id, found.title, found.source, factor, found.note)


def compare(site: Site) -> tuple[Derating, ...]:
    """What every rule (but `none`) says of a site, least power first."""
    found = [derate(site, name) for name in RULES if name != "none"]
    return tuple(sorted(found, key=lambda item: (item.factor, item.rule)))
