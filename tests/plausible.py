"""The laws of a set that a mechanic believes, in figures and words of our own, beside the knowledge that deals.

Purpose: a made-up set, what is wrong with it, and what its meters read -> the laws that it breaks, each as a sentence.
Sources: voltages of 60 Hz ANSI C84.1, of 50 Hz IEC 60038, speed as 120 times hertz over poles (textbook), air losing
3.6 F for every 1000 ft (US Standard Atmosphere), all from memory; what is marked so in the text is common practice.
Not here: dealing (see the engine), and whether the program solves it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from hertzwright.engine.simulated import Bench

STANDARD_VOLTS = {(60, 1): {120, 240}, (60, 3): {208, 240, 480}, (50, 1): {230}, (50, 3): {400}}
GAS = ("lp_gas", "natural_gas")
PARTS = {
    # Words of a cause, and what a set has that can have it.
    r"choke": lambda f: f["choke"] != "none",
    r"heater|heat tube": lambda f: f["choke"] in ("electric", "thermostatic"),
    r"booster": lambda f: f["booster"] != "none",
    r"\bfloat\b|bowl|stale|vapou?r lock|winter fuel|fuel pump|flooded|\bic(e|ing)\b": lambda f: f["fuel"] == "gasoline",
    r"gas pressure|gas regulator|changeover|changed over": lambda f: f["fuel"] in GAS,
    r"\bpoints\b(?!.*magneto)|condenser": lambda f: f["ignition"] in ("points", "magneto"),
    r"magneto": lambda f: f["ignition"] == "magneto",
    r"brush|slip ring": lambda f: f["excitation"] in ("brushes", "dc_exciter"),
    r"diode": lambda f: f["excitation"] in ("brushless", "brushes"),
    r"governor belt": lambda f: f["governor_drive"] == "belt",
    r"return spring": lambda f: f["return_spring"] == "fitted",
    r"damper|dashpot|anti-?surge": lambda f: f["anti_surge"] != "none",
    r"idle control": lambda f: f["idle_control"] == "fitted",
}
_READ = re.compile(r"([0-9.]+)")


def built_wrong(set_: Mapping[str, str | float]) -> list[str]:
    """Laws of building that the features break."""
    number = {name: float(str(value)) for name, value in set_.items() if str(value).replace(".", "").isdigit()}
    kw, cylinders, poles, hertz = (number[name] for name in ("rated_kw", "cylinders", "poles", "hertz"))
    volts, phases = number["volts"], int(number["phases"])
    rpm = 120.0 * hertz / poles
    amps = kw * 1000.0 / (volts if phases == 1 else 3.0**0.5 * volts * 0.8)
    # A litre and a half of a cylinder, seven bar, 1800 rpm (common practice of truck and tractor engines).
    per_cylinder = kw / cylinders * 1800.0 / rpm
    gas = set_["fuel"] in GAS
    battery = set_["ignition"] in ("points", "electronic")
    laws = {
        "gas has no choke, gasoline has one": (set_["choke"] == "none") == gas,
        "gas is set by a screw": not gas or set_["main_jet"] == "adjustable",
        "an electric choke has a battery": set_["choke"] != "electric" or battery,
        "no magneto on six cylinders": set_["ignition"] != "magneto" or cylinders <= 4,
        "weights that advance sit in a distributor": set_["advance"] == "fixed" or (battery and cylinders >= 4),
        "a speed of 1000 to 3600 rpm": rpm in (1000, 1200, 1500, 1800, 3000, 3600),
        "a cylinder gives half a kilowatt to thirteen at 1800 rpm": 0.5 <= per_cylinder <= 13.0,
        "fast sets are small": poles != 2 or (kw <= 15 and cylinders <= 2),
        "slow sets are big": poles != 6 or (kw >= 20 and cylinders >= 4),
        "a standard voltage": volts in STANDARD_VOLTS[int(hertz), phases],
        "no leg of more than 200 amps": amps <= 200.0,
        "no 120 volts beyond 70 amps": volts != 120 or amps <= 70.0,
        "480 volts for what is not carried": volts != 480 or kw >= 15,
        "three phases from six kilowatts on": phases == 1 or kw >= 6,
        "a booster has two cylinders' vacuum and a slow engine": set_["booster"] == "none"
        or (cylinders >= 2 and rpm <= 1800),
        "a governor belt is on a car engine": set_["governor_drive"] == "gear" or cylinders >= 4,
        "a dashpot is on a big governor": set_["anti_surge"] != "dashpot" or (kw >= 9 and cylinders >= 4),
        "what idles alone is carried to a job": set_["idle_control"] == "none"
        or (phases == 1 and kw < 13 and set_["fuel"] != "natural_gas"),
        "an exciter is on a slow machine": set_["excitation"] != "dc_exciter" or (rpm <= 1800 and kw >= 5),
        "no desert heat on a mountain": number["temperature"] <= 115.0 - 3.6 * number["altitude"] / 1000.0,
    }
    return [law for law, kept in laws.items() if not kept]


def of_no_part(set_: Mapping[str, str | float], words: str) -> list[str]:
    """Parts that words speak of and the set has not; what is said "if it has one" speaks of none."""
    words = re.sub(r"the \w+, if it has one,?", "", words)
    return [part for part, has in PARTS.items() if re.search(part, words, re.IGNORECASE) and not has(set_)]


def read_wrong(bench: Bench) -> list[str]:
    """Laws that the meters of a set break: what a frequency and the volts beside it can be."""
    hertz, volts = (float(str(bench.features[name])) for name in ("hertz", "volts"))
    found = []
    for share, frequency, voltage in (
        (0.0, "frequency_no_load", "voltage_no_load"),
        (1.0, "frequency_full_load", "voltage_full_load"),
    ):
        read, shown = _READ.match(bench.answer(frequency)), _READ.match(bench.answer(voltage))
        per_unit = float(shown[1]) / volts if shown is not None else 0.0
        if read is None:
            if share and per_unit > 0.1:
                found.append(f"volts without a frequency at {share:g} of full load")
            continue
        speed = (float(read[1]) - bench.plant.meter.offset) / hertz
        if share and speed < 0.58:
            found.append(f"{speed:.2f} of its speed held under full load")
        if not speed < 1.5:
            found.append(f"{speed:.2f} of its speed")
        # A machine's voltage follows its speed, more or less, and what is wrong with its field takes from it.
        if not 0.55 * speed <= per_unit <= 1.15 * max(1.0, speed):
            found.append(f"{per_unit:.2f} of its volts at {speed:.2f} of its speed")
    return found
