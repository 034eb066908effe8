"""The codes of problems: what each means, why it matters, and a bad and a good example.

Purpose: the one register of codes. `knowledge explain CODE` shows an entry, and the tests put each bad example in
the place of the good one in a small knowledge base to see that exactly this code is found.
Law: a code is never given another meaning and never used again. K00x: the text; K02x: the shape; K03x: names;
K04x: the reasoning; K05x: the work; K06x: the writing; K07x: what is off; K08x: setting; K09x: drawings and units;
K10x: what is left out, and cases.
Not here: the checks themselves (see `source`, `schema`, `names`, `rules`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

__all__ = ["CODES", "Code"]


@dataclass(frozen=True, slots=True)
class Code:
    """One kind of problem. `bad` and `good` are passages of `file`; both are empty where no passage can show it."""

    code: str
    severity: Literal["error", "warning"]
    title: str
    why: str
    file: str = ""
    bad: str = ""
    good: str = ""


_CODES = (
    Code(
        "K001",
        "error",
        "File cannot be read",
        "The file is missing, may not be read, or is not UTF-8 text. Nothing in it is used. Save it as UTF-8.",
    ),
    Code(
        "K002",
        "error",
        "File too large",
        "A file over the size limit is not read, so that a mistake cannot hold up the start. Split it by subject.",
    ),
    Code(
        "K003",
        "error",
        "Character that cannot be seen",
        "Control characters, odd line separators and marks that turn the direction of text make a line read otherwise "
        "than it is, and can disturb a terminal. Take the character out.",
        "words.yaml",
        'brief: "Three times out\\x07 of four."',
        "brief: Three times out of four.",
    ),
    Code(
        "K004",
        "error",
        "Tab",
        "YAML does not take tabs for indentation, and a tab inside a line looks different everywhere. Use spaces.",
        "words.yaml",
        "brief: Three times\tout of four.",
        "brief: Three times out of four.",
    ),
    Code(
        "K005",
        "error",
        "Not YAML",
        "The text does not follow the rules of YAML at this place, so the file has no content that could be used. "
        "Mostly a colon inside a text without quotes, or a line that is not indented like its neighbours.",
        "areas/linkage.yaml",
        "brief: The rod: too long.",
        "brief: The throttle cannot close.",
    ),
    Code(
        "K006",
        "error",
        "Nested too deep",
        "No knowledge file needs more than a few levels. Deeper nesting is a mistake or an attack, and is not read.",
        "areas/linkage.yaml",
        "sources: " + "[" * 45 + "from memory" + "]" * 45,
        "sources: [from memory]",
    ),
    Code(
        "K007",
        "error",
        "Repeated key",
        "YAML lets the last of two equal keys win in silence, so one of the two values would be lost. Keep one.",
        "areas/linkage.yaml",
        "title: Rod too long\ntitle: Rod far too long",
        "title: Rod too long",
    ),
    Code(
        "K008",
        "error",
        "Anchor or alias",
        "Anchors and aliases save typing and cost the reader: the value is elsewhere. Write it out again.",
        "areas/linkage.yaml",
        "sources: &usual [from memory]",
        "sources: [from memory]",
    ),
    Code(
        "K009",
        "error",
        "Tag",
        "Tags change what a value is. Here every value is text, and the schema says what kind of text. Take it out.",
        "areas/linkage.yaml",
        "title: !!str Rod too short",
        "title: Rod too short",
    ),
    Code(
        "K010",
        "error",
        "Second document",
        "A line of three dashes starts another document, which would not be read. Keep one document in a file.",
        "states.yaml",
        "sources: [common practice]\n---\nmore: later",
        "sources: [common practice]",
    ),
    Code(
        "K011",
        "error",
        "Empty file",
        "A file without content is most likely a save that went wrong. Write its content or delete the file.",
    ),
    Code(
        "K012",
        "error",
        "Key that is not a word",
        "A key is one plain word. An empty key, or a list or mapping as a key, cannot be named by anything.",
        "areas/linkage.yaml",
        "? [a, b]\n: too short\ntitle: Rod too short",
        "title: Rod too short",
    ),
    Code(
        "K013",
        "warning",
        "File that is not read",
        "Knowledge is read from the named files, and from areas/, checks/ and cases/. This file is not one of them, so "
        "what it says has no effect. Move it, rename it to end in .yaml, or delete it.",
    ),
    Code(
        "K020",
        "error",
        "Unknown key",
        "A key that nothing reads would have no effect, and is mostly a slip of the pen.",
        "areas/linkage.yaml",
        "titel: Rod too short",
        "title: Rod too short",
    ),
    Code(
        "K021",
        "error",
        "Missing key",
        "Without this key the item cannot be used, or a reader cannot judge it.",
        "areas/linkage.yaml",
        "part: rod\nhow_common: very_seldom\nbrief: The throttle does not reach wide open.",
        "title: Rod too short\npart: rod\nhow_common: very_seldom\nbrief: The throttle does not reach wide open.",
    ),
    Code(
        "K022",
        "error",
        "Wrong shape",
        "A list stands where a mapping or a text belongs, or the other way round.",
        "areas/linkage.yaml",
        "cures: [speed_high]",
        "cures: {speed_high: usually}",
    ),
    Code(
        "K023",
        "error",
        "Not one of the choices",
        "Only the listed values are understood here.",
        "checks/linkage.yaml",
        "kind: lok",
        "kind: look",
    ),
    Code(
        "K024",
        "error",
        "Value of the wrong form",
        "The value is not written as this key needs it: a number with figures and a point, a day as year-month-day, a "
        "word of strength or a probability between 0 and 1.",
        "checks/linkage.yaml",
        'minutes: "two"',
        'minutes: "2"',
    ),
    Code(
        "K025",
        "error",
        "Nothing there",
        "The key is there but nothing stands under it, or less than is needed.",
        "areas/linkage.yaml",
        "brief:",
        "brief: Everything between governor and throttle.",
    ),
    Code(
        "K026",
        "error",
        "Too many, or the same twice",
        "The list holds an entry twice, or more entries than it can have.",
        "areas/linkage.yaml",
        "proof: [frequency, frequency]\nthen: [set_speed]",
        "proof: [frequency]\nthen: [set_speed]",
    ),
    Code(
        "K027",
        "error",
        "Name not in lower case with underscores",
        "Names of items stay for ever in job files and tests: lower-case letters, figures and single underscores, "
        "starting with a letter.",
        "sources.yaml",
        "Shop-notes:\n  title: Notes of a workshop",
        "shop_notes:\n  title: Notes of a workshop",
    ),
    Code(
        "K028",
        "error",
        "Fits no schema",
        "The value breaks a rule of the schema that has no code of its own; the message says which.",
    ),
    Code(
        "K030",
        "error",
        "Name used twice",
        "Two items of one kind have the same name, so a reference to it could mean either. Checks, remedies and "
        "complaints share their names with no other kind either, since answers name them without the kind.",
        "areas/linkage.yaml",
        "set_speed:\n  title: Set the speed\nfrequency:\n  title: Set the speed",
        "set_speed:\n  title: Set the speed",
    ),
    Code(
        "K031",
        "error",
        "Name that is not there",
        "The name of a cause, check, remedy, complaint, caution, state or source that no file defines.",
        "areas/linkage.yaml",
        "stop_gpa: {wide: usually}",
        "stop_gap: {wide: usually}",
    ),
    Code(
        "K032",
        "error",
        "Outcome that the check does not have",
        "The outcome is not one of those that the check lists, or it is the normal one where only abnormal ones "
        "belong: what a cause leaves over of 1 shows the normal outcome.",
        "areas/linkage.yaml",
        "frequency: {lo: sometimes, high: very_seldom}",
        "frequency: {low: sometimes, high: very_seldom}",
    ),
    Code(
        "K033",
        "error",
        "Word that is not in words.yaml",
        "Each word of strength stands for one number, in one file. Another word stands for none.",
        "areas/linkage.yaml",
        "cures: {speed_high: usualy}",
        "cures: {speed_high: usually}",
    ),
    Code(
        "K034",
        "error",
        "Feature or value that is not there",
        "A condition or a case names a feature that features.yaml does not define, a value it cannot have, or compares "
        "a choice as if it were a number. The condition would never hold, or hold for the wrong sets.",
        "areas/linkage.yaml",
        "only_if: {booster: vacum}",
        "only_if: {booster: vacuum}",
    ),
    Code(
        "K035",
        "error",
        "Replacement that is not there",
        "A retired item names what stands in for it. That must exist, be of the same kind, and be in use.",
        "areas/linkage.yaml",
        "title: Speed set too high\n"
        "retired: {since: 2026-01-31, reason: One item was enough., replaced_by: speed_hihg}",
        "title: Speed set too high",
    ),
    Code(
        "K036",
        "error",
        "Retired item still used",
        "Something that is in use names an item that has been retired, and so would never be reached.",
        "areas/linkage.yaml",
        "title: Set the speed\nretired: {since: 2026-01-31, reason: Never needed.}",
        "title: Set the speed",
    ),
    Code(
        "K037",
        "error",
        "Answer that cannot be understood",
        "A case answers a check with something that is no outcome of it and no reading in its unit, or answers a "
        "complaint otherwise than present, absent or unknown.",
        "cases/linkage.yaml",
        "- {check: frequency, answer: 64.1 V}",
        "- {check: frequency, answer: 64.1 Hz}",
    ),
    Code(
        "K038",
        "error",
        "Area that is not this one",
        "The areas are the files in areas/, each named after its area. Checks and cases belong to one of them.",
        "checks/linkage.yaml",
        "area: linkages",
        "area: linkage",
    ),
    Code(
        "K039",
        "error",
        "Unknown tool",
        "A technician who says that a tool is not there is asked for no step that needs it, so each tool has one name. "
        "Name it by its title or another name in tools.yaml, or add it there.",
        "areas/linkage.yaml",
        "tools: [small wrench]",
        "tools: [small wrenches]",
    ),
    Code(
        "K040",
        "error",
        "Cause that no check shows",
        "With nothing that shows it the cause keeps its prior whatever is found, and can never be found or ruled out.",
        "areas/linkage.yaml",
        'frequency: {low: "0", high: "0"}\nstop_gap: {wide: "0"}',
        "frequency: {low: sometimes, high: very_seldom}\nstop_gap: {wide: usually}",
    ),
    Code(
        "K041",
        "warning",
        "Cause that no complaint leads to",
        "No complaint speaks of a check that this cause shows in. Nobody would call for it, or a complaint is missing.",
        "areas/linkage.yaml",
        "rod_short:\n  title: Rod too short\n  part: rod\n  how_common: very_seldom\n"
        "  brief: The throttle does not reach wide open.\n  shows:\n    stop_gap: {wide: usually}",
        "rod_short:\n  title: Rod too short\n  part: rod\n  how_common: very_seldom\n"
        "  brief: The throttle does not reach wide open.\n  shows:\n"
        "    frequency: {low: sometimes, high: very_seldom}\n    stop_gap: {wide: usually}",
    ),
    Code(
        "K042",
        "error",
        "Causes that nothing tells apart",
        "Two causes show the same in every check, so no finding can ever favour one over the other. Add a check that "
        "differs, correct a strength, or make them one cause.",
        "areas/linkage.yaml",
        "frequency: {high: usually}\nstop_gap: {none: usually}",
        "frequency: {low: sometimes, high: very_seldom}\nstop_gap: {wide: usually}",
    ),
    Code(
        "K043",
        "error",
        "Cause without a remedy",
        "Nothing can be done about it, so a job that finds it could only be referred. Say what cures it, even if that "
        "is the work of another shop.",
        "areas/linkage.yaml",
        "cures: {rod_long: usually}",
        "cures: {rod_long: usually, rod_short: usually}",
    ),
    Code(
        "K044",
        "error",
        "Remedy that cures nothing",
        "It would never be suggested. Name the causes that it removes, and the chance that it does.",
        "areas/linkage.yaml",
        "title: Set the rod\nbrief: Make the rod the right length.\ncures: {}",
        "title: Set the rod\nbrief: Make the rod the right length.\ncures: {rod_long: usually, rod_short: usually}",
    ),
    Code(
        "K045",
        "error",
        "Order of work that runs in a circle",
        "Each step of the circle waits for another one, so none of them could ever be suggested.",
        "order.yaml",
        "rod_before_speed:\n  kind: cure_first\n  before: [set_rod]\n  after: [set_speed]\n"
        "  why: The rod moves the speed.\n  sources: [common practice]\n"
        "speed_before_rod:\n  kind: cure_first\n  before: [set_speed]\n  after: [set_rod]\n  why: Habit.",
        "rod_before_speed:\n  kind: cure_first\n  before: [set_rod]\n  after: [set_speed]\n"
        "  why: The rod moves the speed.",
    ),
    Code(
        "K046",
        "warning",
        "Outcome that no cause produces",
        "Only the leak produces it, so finding it points nowhere. Say which cause shows it, or drop the outcome.",
        "areas/linkage.yaml",
        'stop_gap: {none: usually, wide: "0"}',
        "stop_gap: {wide: usually}",
    ),
    Code(
        "K047",
        "error",
        "Strengths that sum to more than 1",
        "A cause produces one outcome of a check, so its strengths there are shares of one whole; what is left of 1 "
        "shows the normal outcome. The leaks of a check are shares of one whole too.",
        "areas/linkage.yaml",
        "frequency: {low: sometimes, high: very_seldom}\nstop_gap: {wide: usually, none: usually}",
        "frequency: {low: sometimes, high: very_seldom}\nstop_gap: {wide: usually}",
    ),
    Code(
        "K048",
        "error",
        "Outcome that cannot be",
        "No cause produces this outcome and its leak is 0, or the normal outcome has no chance left. Whoever sees it "
        "would be told that the findings contradict each other.",
        "checks/linkage.yaml",
        'leak: {none: "0.5", wide: "0.5"}',
        "leak: {none: almost_never, wide: almost_never}",
    ),
    Code(
        "K049",
        "error",
        "Leak that is not given",
        "Every abnormal outcome needs a leak: how often a set without any listed cause shows it. Without one, a fault "
        "that is not in the knowledge would be blamed with certainty on one that is.",
        "checks/linkage.yaml",
        "leak: {none: almost_never}",
        "leak: {none: almost_never, wide: almost_never}",
    ),
    Code(
        "K050",
        "error",
        "Danger without a caution",
        "What is marked dangerous must say what the danger is, since the technician has to acknowledge it.",
        "areas/linkage.yaml",
        "cautions: []\ndangerous: yes",
        "cautions: [hot_parts]\ndangerous: yes",
    ),
    Code(
        "K051",
        "error",
        "No source",
        "Every statement says where it comes from: a published source with its section, common practice, or "
        "from memory.",
        "cautions.yaml",
        "title: Hot parts\ntext: Let them cool.",
        "title: Hot parts\ntext: Let them cool.\nsources: [common practice]",
    ),
    Code(
        "K052",
        "error",
        "Bands that leave a gap, overlap or run backwards",
        "Every reading in the range must mean one outcome: each band starts where the one before it ends, the first "
        "has no `from`, the last no `below`.",
        "checks/linkage.yaml",
        '- {outcome: low, below: "60.5"}\n- {outcome: right, from: "61", below: "62.5"}',
        '- {outcome: low, below: "60.5"}\n- {outcome: right, from: "60.5", below: "62.5"}',
    ),
    Code(
        "K053",
        "warning",
        "Outcome that no reading means",
        "The check takes readings, but no band leads to this outcome.",
        "checks/linkage.yaml",
        '- {outcome: right, from: "60.5", below: "62.5"}\n- {outcome: right, from: "62.5"}',
        '- {outcome: right, from: "60.5", below: "62.5"}\n- {outcome: high, from: "62.5"}',
    ),
    Code(
        "K054",
        "error",
        "Moves that are not complete",
        "The table of moves gives the minutes from every set-up state to every other one. Without one of them the cost "
        "of a step cannot be told.",
        "states.yaml",
        'stopped: {warm: "4"}\nwarm: {}',
        'stopped: {warm: "4"}\nwarm: {stopped: "2"}',
    ),
    Code(
        "K055",
        "error",
        "Range or default that does not fit",
        "A range runs from the lower to the higher number, a default is a value that the feature can have, and the "
        "normal outcome of a band lies in the range of its check.",
        "features.yaml",
        'default: "9"\nrange: ["1", "8"]',
        'default: "2"\nrange: ["1", "8"]',
    ),
    Code(
        "K056",
        "error",
        "One part, more than all of it",
        "The causes of one part exclude one another, so what is said about how common they are cannot sum to 1 or "
        "more.",
        "areas/linkage.yaml",
        'title: Rod too short\npart: rod\nhow_common: "0.97"',
        "title: Rod too short\npart: rod\nhow_common: very_seldom",
    ),
    Code(
        "K057",
        "error",
        "Derived reading that cannot be computed",
        "A derived reading is the difference of two other checks that have readings in the same unit.",
        "checks/linkage.yaml",
        "derived: {minus: [frequency, stop_gap]}\n"
        "sources:\n  - common practice\n  - {source: shop_notes, section: p. 4}",
        "sources:\n  - common practice\n  - {source: shop_notes, section: p. 4}",
    ),
    Code(
        "K058",
        "error",
        "Reading without the feature it is scaled by",
        "Bands in hertz are for 60 Hz and are scaled to the rated frequency, speeds are turned into hertz by the "
        "poles, and bands in volts and amps are fractions of the rating. So features.yaml holds these.",
        "features.yaml",
        "frequency_rated:\n  title: Rated frequency",
        "hertz:\n  title: Rated frequency",
    ),
    Code(
        "K059",
        "error",
        "Step that is not there",
        "A remedy names the steps that are done under load, and the first one with the engine running, by number. A "
        "number that no step has, most often after a step was taken out, would leave a step in that cannot be done. "
        "Where the work begins on a set that runs, nothing is started.",
        "areas/linkage.yaml",
        "light_load: [2]",
        "light_load: [1]",
    ),
    Code(
        "K060",
        "warning",
        "Long line",
        "Lines of at most 140 characters can be read and compared side by side. Break the prose after a sentence.",
        "areas/linkage.yaml",
        "The arm runs out of travel" + ", and so on" * 12 + ".",
        "The arm runs out of travel.",
    ),
    Code(
        "K061",
        "warning",
        "Two sentences on one line",
        "With one sentence a line a change shows as one line, and a reviewer sees what was said before.",
        "areas/linkage.yaml",
        "The arm runs out of travel. It stops.",
        "The arm runs out of travel.",
    ),
    Code(
        "K062",
        "warning",
        "Keys out of order",
        "Items of one kind have their keys in one order, so that a reader finds each thing where it was in "
        "the last one.",
        "areas/linkage.yaml",
        "part: rod\ntitle: Rod too short",
        "title: Rod too short\npart: rod",
    ),
    Code(
        "K063",
        "warning",
        "Text that a # cuts off",
        "A blank and a # begin a comment, so what stands behind them is no part of the text. Put quotes round a text "
        "that has a # in it, and a comment on a line of its own.",
        "areas/linkage.yaml",
        "title: Rod #1 too short",
        "title: Rod too short",
    ),
    Code(
        "K064",
        "warning",
        "Curly quotes",
        "Only straight quotes mark a text; curly ones, as word processors write them, would be shown with it.",
        "areas/linkage.yaml",
        "title: \u201cRod too short\u201d",
        "title: Rod too short",
    ),
    Code(
        "K070",
        "error",
        "Runs with something off",
        "Nobody may be led to run a set with its rod or a guard off. A step that runs the set and takes something off "
        "says under `puts_back` that its own steps put it back, or under `runs_without` that this is what is tried.",
        "areas/linkage.yaml",
        "takes_off: [air_cleaner]\nputs_back: [guard]",
        "takes_off: [air_cleaner]\nputs_back: [air_cleaner]",
    ),
    Code(
        "K071",
        "error",
        "On and off at once",
        "A step that needs a fitting on cannot run without it, and on a standing set nothing runs without anything.",
        "areas/linkage.yaml",
        "puts_back: [air_cleaner]\nruns_without: [rod]",
        "puts_back: [air_cleaner]",
    ),
    Code(
        "K072",
        "error",
        "Put back on a running set",
        "Hands go to the rod, the spring or a guard only on a set that stands still.",
        "fittings.yaml",
        "question: Guard on?\nstate: warm",
        "question: Guard on?\nstate: stopped",
    ),
    Code(
        "K080",
        "error",
        "Circle in setting",
        "A step of setting waits for those that it needs; where they wait for it in turn nobody can begin. What has to "
        "be done again after another stands under `disturbs` of that one, and makes nobody wait.",
        "setting.yaml",
        "needs: [rod_matched, speed_right]",
        "needs: [rod_matched]",
    ),
    Code(
        "K081",
        "error",
        "Setting that nothing accepts",
        "What is turned is accepted by a reading, never by the turning; and no step can wait for one that comes after "
        "all others.",
        "setting.yaml",
        "accepts: {}",
        "accepts:\n  frequency: {}",
    ),
    Code(
        "K090",
        "error",
        "Drawing that cannot be shown",
        "A drawing is seen on the smallest screen and on any terminal: at most 38 columns and 18 rows of plain ASCII. "
        "What `parts` names stands in it, so that nobody looks for a part that is not drawn.",
        "drawings.yaml",
        "parts: [rod, spring]",
        "parts: [rod, stop]",
    ),
    Code(
        "K091",
        "error",
        "Two drawings for one step",
        "One key shows one drawing, so each check and each remedy is named by one at most.",
        "drawings.yaml",
        "of: [frequency, stop_gap]",
        "of: [frequency]",
    ),
    Code(
        "K092",
        "error",
        "Unit that is too long",
        "A unit is read in two minutes: its text, its example and its question have 300 words together at most. "
        "More is two units.",
    ),
    Code(
        "K093",
        "error",
        "Prediction without one right answer",
        "A prediction is answered before anything is read, so one of its answers is right and the others are wrong.",
        "units.yaml",
        "- say: It is wide.\n  right: yes",
        "- say: It is wide.",
    ),
    Code(
        "K094",
        "error",
        "Example that hides a figure",
        "What an example is computed from and its result stand in its text, so that a reader can follow it; and the "
        "program's own function is held against them.",
        "units.yaml",
        'given: {f_no_load: "61.5", f_load: "60", f_rated: "60"}',
        'given: {f_no_load: "61.2", f_load: "60", f_rated: "60"}',
    ),
    Code(
        "K095",
        "error",
        "Short drill that cannot be told",
        "A trainee names the cause from the looks that are shown, so no two of its causes show the same in "
        "all of them.",
        "units.yaml",
        "- causes: [rod_long, speed_high]\n  looks: [frequency]",
        "- causes: [rod_long, speed_high]\n  looks: [frequency, stop_gap]",
    ),
    Code(
        "K100",
        "warning",
        "Check that its neighbours show in",
        "A check that a cause leaves out is not affected by it, which speaks against the cause as loudly as a strength "
        "speaks for it. Where nine in ten of the other causes of its area, five at least, show in a check, leaving it "
        "out is asked about once: say how it shows, or write under `unaffected` that it was thought through.",
    ),
    Code(
        "K101",
        "error",
        "Affected and not affected",
        "A check under `shows` is affected by the cause, one under `unaffected` is not.",
        "areas/linkage.yaml",
        "brief: The throttle does not reach wide open.\nshows:\n"
        "  frequency: {low: sometimes, high: very_seldom}\n  stop_gap: {wide: usually}\nunaffected: [stop_gap]",
        "brief: The throttle does not reach wide open.\nshows:\n"
        "  frequency: {low: sometimes, high: very_seldom}\n  stop_gap: {wide: usually}",
    ),
    Code(
        "K102",
        "error",
        "Pair of cases that is no pair",
        "A case that stands beside another is the same set with the same looks in the same order and one other answer, "
        "and something else is wrong with it: so the pair holds the turning point between the two causes.",
        "cases/linkage.yaml",
        'truth: [rod_long]\nexpect:\n  leading: [rod_long]\n  within_first: "1"\n  at_least: "0.5"\n'
        "beside: rod_after_overhaul",
        'truth: [rod_long]\nexpect:\n  leading: [rod_long]\n  within_first: "1"\n  at_least: "0.5"',
    ),
    Code(
        "K103",
        "error",
        "To lead and not to lead",
        "What a case expects in the lead stands under `leading`, what a hasty reader would take it for under "
        "`not_leading`.",
        "cases/linkage.yaml",
        'leading: [rod_long]\nwithin_first: "1"\nat_least: "0.5"\nnot_leading: [rod_long]',
        'leading: [rod_long]\nwithin_first: "1"\nat_least: "0.5"',
    ),
    Code(
        "K104",
        "error",
        "Expected in the lead and not true",
        "What a case expects in the lead is what was truly wrong with the set. Another cause there would teach the "
        "knowledge to be wrong.",
        "cases/linkage.yaml",
        "leading: [rod_short]",
        "leading: [rod_long]",
    ),
    Code(
        "K105",
        "error",
        "One look, two answers",
        "With nothing done in between, a check on the same set shows the same; the later answer would take the place "
        "of the earlier one in silence. Keep the right one, or name the remedy that was done between them.",
        "cases/linkage.yaml",
        "- {check: stop_gap, answer: none}\n- {check: stop_gap, answer: wide}",
        "- {check: stop_gap, answer: none}",
    ),
    Code(
        "K106",
        "error",
        "Said for two answers",
        "What people say for an answer of a check is said for that one alone, or nobody could tell which is meant. "
        "Where no has two answers, it stands under neither, and is asked about.",
        "checks/linkage.yaml",
        "leak: {none: almost_never, wide: almost_never}\nsaid: {none: [no gap], wide: [no gap]}",
        "leak: {none: almost_never, wide: almost_never}",
    ),
)

CODES: Mapping[str, Code] = MappingProxyType({entry.code: entry for entry in _CODES})
