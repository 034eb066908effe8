"""`hertzwright trim`: adjust, trial by trial.

Purpose: take the technician's trials, say what to turn next, which way and how far, and stop when it is right or when
adjusting is not what it needs.
Law: results go to standard output and talk to standard error; with no terminal nothing is asked. Exit: 0 fine; 1 it is
to be diagnosed or shut down; 2 wrong use or unreadable input.
Not here: the reasoning (see `engine.trim`), and what the trials mean for the causes: `--facts` hands them to a job.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping, Sequence

from ...engine import AnswerError, Knowledge
from ...engine.compiler import AdjusterPair, parse_number
from ...engine.problems import HertzwrightError, printable, quoted
from ...engine.readings import figure_alone, read_turns, yes_or_no
from ...engine.trim import Coach, NextTurn, Trial, TrimError, goal_of, pair_of
from ..files import Outfile, output_file, store
from ..record import held
from ..terminal import Asker, Screen, Stop, prompts
from . import trial_text, trim_view

_PAIR = "speed+sensitivity"
_COMMANDS = "Also: back takes away the last trial, stop ends, ? says this."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    add = parser.add_argument
    add("--pair", metavar="NAME", help=f"what is adjusted: {_PAIR} (usual), booster, or idle_needle")
    add("--trials", metavar="FILE",
        help="trials as CSV, YAML or JSON, the first as found; - for standard input. Names: the adjusters (turns from "
        "where they were found), no_load, full_load (Hz), hunting (steady, hunting or Hz), minutes")  # fmt: skip
    add("--set", action="append", default=[], metavar="KEY=VALUE", help="a feature of the set, such as booster=none")
    add("--tolerance", metavar="ID", help="tolerance set to meet (default: default)")
    add("--target-no-load", metavar="HZ", help="where to bring no load (or the light load), instead of the usual")
    add("--target-full-load", metavar="HZ", help="where to bring full load, instead of the usual")
    add("--close", metavar="HZ", help="go on until the targets are met to within HZ, not only the limits")
    add(
        "--facts",
        metavar="FILE",
        help="write what the trials say of the set as facts for rank and start; - prints them",
    )
    add(
        "--secured",
        metavar="NAME",
        help="who shut the set down and proved its throttle after an overspeed in a trial before the last",
    )
    add("--force", action="store_true", help="write the facts over a file that is there already")
    add("--json", action="store_true", help="results as JSON")
    store.add_knowledge(parser)
    store.add_plain(parser)


def run(arguments: argparse.Namespace) -> int:
    """Run the command. Returns the exit status; raises HertzwrightError for what cannot be used."""
    knowledge = store.knowledge(arguments.knowledge)
    source = arguments.trials
    if source is None and not sys.stdin.isatty():
        source = "-"
    reads = [source] if source not in (None, "-") else []
    out = None if arguments.facts is None else output_file.claimed(arguments.facts, arguments.force, reads)
    name, tolerance, given = arguments.pair, arguments.tolerance, _features(arguments.set)
    data, shown = trial_text.data_of(source) if source is not None else (b"", "")
    if source is not None:
        if not data.strip():
            if arguments.trials is None:
                raise TrimError("no terminal to ask at, and nothing on standard input; give --trials FILE")
            raise TrimError(f"{shown}: no trials in it")
        name = name or trial_text.pair_named(data, shown)
    features = knowledge.features(given)
    name = name or _PAIR
    trials: Sequence[Trial] = ()
    if source is not None:
        pair = _pair(knowledge, name)
        read = trial_text.trials_of(data, shown, pair, knowledge.catalogue.adjusters)
        given = {**read.features, **given}
        features, tolerance, trials = knowledge.features(given), tolerance or read.tolerance, read.trials
    pair = pair_of(knowledge, name, features)
    tolerance = tolerance or "default"
    goal = goal_of(knowledge, pair, features, tolerance, _targets(arguments, pair))
    close = None if arguments.close is None else _close(arguments.close)
    coach = Coach.begin(knowledge, pair, features, goal, close)
    if source is None:
        if arguments.json:
            raise TrimError("--json asks nothing; give --trials FILE as well")
        if not sys.stdout.isatty():
            raise TrimError("no terminal to ask at; give --trials FILE")
        screen = Screen(arguments.plain)
        asker = prompts.terminal(arguments.plain, "give --trials FILE")
        coach = _trial_loop(knowledge, coach, screen, asker)
        advice = coach.advice()
    else:
        for number, trial in enumerate(trials, 1):
            if number == len(trials) and arguments.secured:
                coach = coach.secured()
            try:
                coach = coach.after(trial)
            except TrimError as error:
                raise TrimError(f"{shown}: trial {number}: {error}") from None
        advice = coach.advice()
        if arguments.json:
            found = trim_view.as_dict(coach, advice, knowledge, features, tolerance)
            print(json.dumps(_finite(found), sort_keys=True, indent=2, allow_nan=False))
        elif arguments.facts != "-":
            screen = Screen(arguments.plain)
            held.say_holds(screen, trim_view.holds_of(coach, knowledge, features), held.HOW_ALONE)
            trim_view.show_before(screen, coach, knowledge, in_full=False)
            trim_view.show_trials(screen, coach, knowledge)
            trim_view.show_advice(screen, coach, advice, knowledge)
    if coach.trials:
        text = trim_view.facts_text(coach, knowledge, features, given, tolerance, advice)
        _facts(arguments, out, text, advice, source is None)
    return int(advice.kind in ("diagnose", "stop"))


def _pair(knowledge: Knowledge, name: str) -> AdjusterPair:
    """The pair by name alone: whether the set has it is only known when the file has said what set it is."""
    known = knowledge.catalogue.pairs
    wanted = "_".join(name.lower().replace("+", " and ").replace("-", " ").replace("_", " ").split())
    return known[wanted] if wanted in known else pair_of(knowledge, name, knowledge.features({}))


def _features(written: Sequence[str]) -> dict[str, str]:
    given: dict[str, str] = {}
    for text in written:
        name, equals, value = text.partition("=")
        if not equals or not value.strip():
            raise AnswerError(f"--set {quoted(text)}: expected KEY=VALUE, such as booster=none")
        given[name.strip()] = value.strip()
    return given


def _targets(arguments: argparse.Namespace, pair: AdjusterPair) -> tuple[float | None, ...]:
    written = (arguments.target_no_load, arguments.target_full_load)
    options = ("--target-no-load", "--target-full-load")
    values = [
        None if text is None else trial_text.read_hertz(text, option)
        for text, option in zip(written, options, strict=True)
    ]
    if len(pair.readings) == 1 and values[1] is not None:
        raise TrimError(f"--target-full-load {quoted(written[1])}: {pair.title} has no full load")
    return tuple(values[: len(pair.readings)])


def _close(text: str) -> float:
    try:
        value = parse_number(text)
    except ValueError:
        value = -1.0
    if not 0.1 <= value <= 5.0:
        raise AnswerError(f"--close {quoted(text)}; expected 0.1 to 5 Hz")
    return value


def _facts(arguments: argparse.Namespace, out: Outfile | None, text: str, advice: NextTurn, talked: bool) -> None:
    """Write the facts where asked for, or tell how to take them on."""
    if arguments.facts == "-":
        if not arguments.json:
            print(text, end="")
        return
    if out is not None:
        out.put(text.encode("utf-8"))
        print(f"Go on with: hertzwright start --from {printable(arguments.facts)}", file=sys.stderr)
    elif advice.kind in ("diagnose", "stop") and not arguments.json:
        again = "" if talked else " by --facts FILE,"
        print(
            f"These facts go on in a job: keep them in a file,{again} and type hertzwright start --from FILE",
            file=sys.stderr,
        )
        print(text, end="")


def _finite(value: object) -> object:
    """Bounds that are not there are null in JSON."""
    if isinstance(value, float) and value in (float("inf"), float("-inf")):
        return None
    if isinstance(value, Mapping):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(item) for item in value]
    return value


# ---- talking ---------------------------------------------------------------------------------------------------------


def _trial_loop(knowledge: Knowledge, coach: Coach, screen: Screen, asker: Asker) -> Coach:
    """Ask for one trial after the other until it is right or the technician stops."""
    trim_view.show_before(screen, coach, knowledge, in_full=True)
    before: list[Coach] = []
    try:
        if not prompts.confirm(asker, screen, "Is all of that in order, and are you safe?", "yes, go on", "no, stop"):
            return coach
        while True:
            advice = coach.advice()
            trim_view.show_advice(screen, coach, advice, knowledge)
            if advice.kind in ("done", "diagnose", "stop"):
                return coach
            trial = _ask(knowledge, coach, advice, screen, asker)
            if trial is None:
                if before:
                    coach = before.pop()
                    screen.note("The last trial is taken away.")
                else:
                    screen.problem("There is no trial to take away yet.")
                continue
            try:
                after = coach.after(trial)
            except TrimError as error:
                screen.problem(str(error))
                continue
            before.append(coach)
            coach = after
    except Stop:
        return coach


class _Back(Exception):  # noqa: N818 - a wish, not an error
    """The technician takes the last trial back."""


def _ask(knowledge: Knowledge, coach: Coach, advice: NextTurn, screen: Screen, asker: Asker) -> Trial | None:
    """One trial, or None to take the last one away."""
    try:
        place = _place(knowledge, coach, advice, screen, asker)
        values: list[float | None] = []
        for name in coach.pair.readings:
            said = trim_view.label(name)
            values.append(_value(knowledge, screen, asker, f"{said.capitalize()}, Hz: ", said))
        while True:
            text = _line(screen, asker, "Steady or hunting? (or swing in Hz): ", ("steady", "hunting"))
            try:
                # Of one of two a yes or no says nothing.
                hunts, swing = (None, None) if yes_or_no(text) is not None else trial_text.read_hunting(text)
            except AnswerError as error:
                screen.problem(str(error))
                continue
            if hunts is None:
                screen.problem("Look at the needle or the rod for half a minute: steady or hunting?")
                continue
            return Trial(place, tuple(values), hunts, swing)
    except _Back:
        return None


def _place(knowledge: Knowledge, coach: Coach, advice: NextTurn, screen: Screen, asker: Asker) -> tuple[float, ...]:
    """Where the adjusters stand: as advised by Enter, else turns from where they were found."""
    here = coach.line.at
    if advice.kind == "begin":
        if coach.edge.adjuster is None:
            return here
        told = here
    else:
        told = advice.choice.place if advice.kind == "turn" and advice.choice is not None else here
        if advice.kind != "turn":
            return told
        while True:
            text = _line(screen, asker, "Turned so? Enter, or n for other turns: ", ("n",))
            so = yes_or_no(text)
            if so or not text:
                return told
            if so is False:
                break
            screen.problem(f"{quoted(text)}: expected Enter or yes where it was turned so, or n for other turns")
    place = []
    for name, wanted in zip(coach.names, told, strict=True):
        made = knowledge.catalogue.adjusters[name]
        counted = "turns from where it was found" if coach.edge.adjuster is None else "turns open"
        while True:
            text = _line(screen, asker, f"{made.title}, {counted}: ", ())
            try:
                place.append(read_turns(text, made) if text else wanted)
                break
            except AnswerError as error:
                screen.problem(str(error))
    return tuple(place)


def _value(knowledge: Knowledge, screen: Screen, asker: Asker, prompt: str, said: str) -> float | None:
    while True:
        text = _line(screen, asker, prompt, ())
        bare = figure_alone(knowledge.catalogue.typed, text)
        try:
            value = trial_text.read_hertz(bare or text, said)
        except HertzwrightError:
            screen.problem(_why_not(text, said))
            continue
        if bare != " ".join(text.lower().split()):
            screen.line(f"Understood: {value:g} Hz.")
        return value


def _why_not(text: str, said: str) -> str:
    """Why a text is no reading in hertz, in its own words."""
    try:
        trial_text.read_hertz(text, said)
    except HertzwrightError as error:
        return str(error)
    return f"{quoted(text)} for {said}; expected Hz, such as 61.5"


def _line(screen: Screen, asker: Asker, prompt: str, words: Sequence[str]) -> str:
    while True:
        text = asker.ask(prompt, (*words, "back", "stop"))
        if text.lower() in prompts.STOP_WORDS:
            raise Stop
        if text.lower() in prompts.BACK_WORDS:
            raise _Back
        if text.lower() in prompts.HELP_WORDS:
            screen.line(_COMMANDS)
            continue
        return text
