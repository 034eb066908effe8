"""A knowledge folder that is as small as one can be without a problem, written where a test wants it.

Every good example of a code (see `hertzwright.engine.problems.codes`) stands in it word for word, so that a test can put the
bad example in its place.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from pathlib import Path

FILES: Mapping[str, str] = {
    "words.yaml": """\
words:
  usually:
    value: "0.75"
    brief: Three times out of four.
    sources: [common practice]
  sometimes:
    value: "0.25"
    brief: One time out of four.
    sources: [common practice]
  seldom:
    value: "0.10"
    brief: One time out of ten.
    sources: [common practice]
  very_seldom:
    value: "0.05"
    brief: One time out of twenty.
    sources: [common practice]
  almost_never:
    value: "0.03"
    brief: Three times out of a hundred.
    sources: [common practice]
""",
    "sources.yaml": """\
sources:
  shop_notes:
    title: Notes of a workshop
    number: Part 1
""",
    "features.yaml": """\
features:
  booster:
    title: Booster
    brief: A diaphragm that helps the governor spring.
    ask: Is there a booster?
    kind: choice
    default: vacuum
    choices: [none, vacuum]
  cylinders:
    title: Cylinders
    brief: With one there is nothing to compare.
    ask: How many cylinders?
    kind: number
    default: "2"
    range: ["1", "8"]
  hertz:
    title: Rated frequency
    brief: From the nameplate.
    ask: What frequency does the nameplate give?
    kind: number
    default: "60"
    choices: ["50", "60"]
  poles:
    title: Poles
    brief: Four run at 1800 rpm for 60 Hz.
    ask: How many poles has the generator?
    kind: number
    default: "4"
    choices: ["2", "4"]
""",
    "cautions.yaml": """\
cautions:
  rotating_parts:
    title: Rotating parts
    text: |
      Keep hands clear of the fan.
      Take off rings and watches.
    sources: [common practice]
  hot_parts:
    title: Hot parts
    text: Let them cool.
    sources: [common practice]
""",
    "fittings.yaml": """\
fittings:
  rod:
    title: Rod
    question: Rod on and locked?
    state: stopped
    minutes: "1"
    cautions: [rotating_parts]
    sources: [common practice]
  air_cleaner:
    title: Air cleaner
    question: Air cleaner on?
    state: stopped
    minutes: "2"
    sources: [common practice]
  guard:
    title: Guard
    question: Guard on?
    state: stopped
    minutes: "3"
    sources: [common practice]
""",
    "tools.yaml": """\
tools:
  frequency_meter:
    title: frequency meter
  small_wrenches:
    title: small wrenches
    also: [two small wrenches]
  load:
    title: load on the set
    states: [warm]
""",
    "phrases.yaml": """\
phrases:
  goes_up_and_down:
    said: goes up and down
    means: []
""",
    "states.yaml": """\
states:
  stopped:
    title: Stopped
    brief: Shut down.
    dangerous: no
    cautions: []
  warm:
    title: Running warm
    brief: At working temperature, breaker open.
    runs: yes
    dangerous: yes
    cautions: [rotating_parts]
moves:
  stopped: {warm: "4"}
  warm: {stopped: "2"}
start_state: stopped
proof:
  minutes: "6"
  state: warm
  checks: [frequency]
  needed: [frequency]
  also_fine: {}
  shows: usually
  false_alarm: "0.02"
refer:
  minutes: "240"
  brief: Hand the set over.
come_back:
  minutes: "360"
  brief: It comes back.
sources: [common practice]
""",
    "tolerances.yaml": """\
tolerances:
  default:
    title: Common practice
    brief: What most shops accept.
    bands:
      frequency:
        - {outcome: low, below: "60"}
        - {outcome: right, from: "60", below: "63"}
        - {outcome: high, from: "63"}
    limits:
      spread_hz_max: "3"
    sources: [common practice]
danger:
  overspeed:
    title: Overspeed
    brief: So fast that it breaks.
    of: hertz
    from_percent: "110"
    meters: [hertz, highest_hertz]
    readings:
      frequency: {}
    outcomes: {}
    cautions: [rotating_parts]
    sources: [common practice]
""",
    "order.yaml": """\
order:
  rod_before_speed:
    kind: cure_first
    before: [set_rod]
    after: [set_speed]
    why: The rod moves the speed.
    sources: [common practice]
""",
    "complaints.yaml": """\
complaints:
  floats_high:
    title: Floats high
    brief: Too fast with no load.
    synonyms: [runs fast]
    mode: any
    says:
      frequency: [high]
    true_when_said: "0.9"
    said_when_not: "0.05"
    cautions: [rotating_parts]
    sources: [common practice]
""",
    "family.yaml": """\
shares:
  booster:
    of: {vacuum: "0.6", none: "0.4"}
    sources: [from memory]
spreads:
  flywheel:
    title: Flywheel and rotor
    part: engine
    value: inertia
    how: factor
    range: ["0.8", "1.2"]
    note: As heavy as it was made.
    sources: [from memory]
""",
    "drills.yaml": """\
made_up:
  booster:
    of: {vacuum: "1", none: "1"}
    sources: [from memory]
combinations:
  one_cylinder_has_none:
    if: {cylinders: "1"}
    has: {booster: none}
    why: Its vacuum is too rough.
    sources: [common practice]
slips:
  nut_left_loose:
    of: [set_speed]
    leaves: speed_high
    check: frequency
    outcome: high
    brief: The nut was left loose, and the screw has turned.
    sources: [common practice]
""",
    "drawings.yaml": """\
drawings:
  stop:
    title: Gap at the stop
    in_words: |
      The lever stands a hair from the stop.
      The rod goes to it.
    of: [stop_gap]
    parts: [rod, stop]
    art: |2
        rod
      =====o
           | # stop
           O #
    sources: [common practice]
  meter:
    title: The meter
    in_words: It reads 60.
    of: [frequency]
    parts: [meter]
    art: |2
      .----.
      | 60 |  meter
      '----'
    sources: [common practice]
""",
    "units.yaml": """\
units:
  rod_and_speed:
    title: The rod and the speed
    text: |
      The rod holds the plate where the governor wants it.
      A rod that is too long lets no gap at the stop.
    drawing: stop
    example:
      text: From 61.2 Hz to 60 Hz of 60 Hz is a droop of 2 %.
      by: droop_percent
      given: {f_no_load: "61.2", f_load: "60", f_rated: "60"}
      gives: "2"
    prediction:
      question: The rod is too long. What of the gap?
      answers:
        - say: There is none.
          right: yes
          because: The lever lies on the stop.
        - say: It is wide.
          because: That is a rod too short.
    drills:
      - causes: [rod_long, speed_high]
        looks: [frequency, stop_gap]
        why: The gap tells of the rod.
      - causes: [speed_high, rod_long]
        looks: [stop_gap]
        why: The speed leaves the gap alone.
    cautions: [hot_parts]
    sources: [common practice]
""",
    "setting.yaml": """\
rules:
  suspected_from: "0.5"
  found_from: "0.25"
  tries: "2"
  waits_at_most: "30"
  sources: [from memory]
setting:
  rod_matched:
    title: Rod matched
    brief: The rod leaves a small gap.
    disturbs: [speed_right]
    state: stopped
    minutes: "0"
    accepts:
      stop_gap: {none: set_rod, wide: set_rod}
    sources: [common practice]
  speed_right:
    title: Speed right
    brief: The meter says so.
    needs: [rod_matched]
    state: warm
    minutes: "1"
    accepts:
      frequency: {}
    adjuster: speed
    sources: [common practice]
""",
    "trimming.yaml": """\
adjusters:
  speed:
    title: Speed adjuster
    brief: More tension is more speed.
    more: in
    less: out
    remedy: set_speed
    finest: "0.125"
    longest: "3"
    range: ["-10", "10"]
    sources: [common practice]
pairs:
  speed_alone:
    title: Speed
    brief: No load.
    readings: {no_load: frequency}
    swing: frequency
    response:
      speed: {scale: "0.3", per_turn: {no_load: "0.75"}, scatter: {no_load: "0.1"}}
    bend: "0.01"
    noise: {steady: "0.05", hunting: "0.3"}
    target: {no_load: "61.5"}
    hunts: {by: speed, below: "-9", scatter: "1", width: "0.5"}
    sources: [common practice]
""",
    "checks/linkage.yaml": """\
area: linkage
checks:
  frequency:
    title: Frequency with no load
    kind: measurement
    state: warm
    minutes: "1"
    tools: [frequency meter]
    ask: What does the meter read?
    how:
      - Read after the needle has settled.
    outcomes:
      right: Between the limits.
      low: Below the limits.
      high: Above the limits.
    leak: {low: almost_never, high: almost_never}
    reading:
      unit: Hz
      range: ["20", "90"]
      bands:
        - {outcome: low, below: "60.5"}
        - {outcome: right, from: "60.5", below: "62.5"}
        - {outcome: high, from: "62.5"}
      scale: rated_frequency
    sources:
      - common practice
      - {source: shop_notes, section: p. 4}
  stop_gap:
    title: Gap at the wide-open stop
    kind: look
    state: stopped
    minutes: "2"
    ask: Is there a gap?
    outcomes:
      right: A small gap.
      none: No gap.
      wide: A wide gap.
    leak: {none: almost_never, wide: almost_never}
    cautions: [rotating_parts]
    dangerous: yes
    sources: [common practice]
""",
    "areas/linkage.yaml": """\
area: linkage
title: Linkage
brief: Everything between governor and throttle.
causes:
  rod_long:
    title: Rod too long
    part: rod
    how_common: very_seldom
    when:
      - {if: {cylinders: {at_least: "2"}}, how_common: almost_never}
    brief: The throttle cannot close.
    note: |
      The arm runs out of travel.
      The throttle stays open.
    shows:
      frequency: {high: usually}
      stop_gap: {none: usually}
    sources: [common practice]
  rod_short:
    title: Rod too short
    part: rod
    how_common: very_seldom
    brief: The throttle does not reach wide open.
    shows:
      frequency: {low: sometimes, high: very_seldom}
      stop_gap: {wide: usually}
    sources: [from memory]
  speed_high:
    title: Speed set too high
    how_common: very_seldom
    only_if: {booster: vacuum}
    brief: Somebody turned the adjuster.
    shows:
      frequency: {high: usually}
    sources: [common practice]
remedies:
  set_rod:
    title: Set the rod
    brief: Make the rod the right length.
    cures: {rod_long: usually, rod_short: usually}
    state: stopped
    minutes: "10"
    tools: [small wrenches]
    steps:
      - Turn the rod end.
    proof: [frequency]
    then: [set_speed]
    sources: [common practice]
  set_speed:
    title: Set the speed
    brief: Turn the adjuster until the meter is right.
    cures: {speed_high: usually}
    state: warm
    minutes: "3"
    cautions: [hot_parts]
    dangerous: yes
    needs_on: [rod]
    takes_off: [air_cleaner]
    puts_back: [air_cleaner]
    steps:
      - Turn the adjuster.
    light_load: [1]
    proof: [frequency]
    sources: [common practice]
""",
    "cases/linkage.yaml": """\
area: linkage
cases:
  rod_after_overhaul:
    title: Rod fitted too long
    set: {cylinders: "2"}
    facts:
      - {complaint: floats_high, answer: present}
      - {check: frequency, answer: 64.1 Hz}
      - {check: stop_gap, answer: none}
    truth: [rod_long]
    expect:
      leading: [rod_long]
      within_first: "1"
      at_least: "0.5"
    sources: [from memory]
""",
}


def write(folder: Path, changes: Mapping[str, str | bytes | None] | None = None) -> Path:
    """Write the small knowledge into a folder; `changes` gives other content for a file, or None to leave it out."""
    for name, text in {**FILES, **(changes or {})}.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        if isinstance(text, bytes):
            path.write_bytes(text)
        elif text is not None:
            path.write_text(text, encoding="utf-8")
    return folder


def replaced(file: str, good: str, bad: str) -> tuple[str, int]:
    """The text of a small file with one passage in the place of another, and the line where it starts, from 1.

    Both passages are given without their common indentation. LookupError when the file does not hold `good` once.
    """
    lines = FILES[file].split("\n")
    wanted = good.strip("\n").split("\n")
    found: list[tuple[int, int]] = []
    for start in range(len(lines) - len(wanted) + 1):
        piece = lines[start : start + len(wanted)]
        indent = len(piece[0]) - len(piece[0].lstrip(" "))
        if textwrap.dedent("\n".join(piece)).split("\n") == wanted and all(
            not line or line.startswith(" " * indent) for line in piece
        ):
            found.append((start, indent))
    if len(found) != 1:
        raise LookupError(f"{file} holds the passage {len(found)} times: {good!r}")
    start, indent = found[0]
    new = [" " * indent + line if line else line for line in bad.strip("\n").split("\n")]
    return "\n".join(lines[:start] + new + lines[start + len(wanted) :]), start + 1
