"""How the adjusting coach looks: trials, what to turn, what to expect, and why.

Purpose: advice of the coach as lines for a screen, and as plain values for JSON.
Law: turns are told as fractions, as decimals and as flats of a nut; an uncertainty is two standard deviations, which a
reading keeps about nineteen times in twenty.
Not here: what is advised (see `engine.trim`).
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from ...engine import Hold, Knowledge
from ...engine.compiler import Adjuster, Features
from ...engine.job import danger, of_steps
from ...engine.trim import Coach, NextTurn, Trial, facts_of, order_of
from ..record import held
from ..terminal import Screen, percent

LOCAL = "The set's own book and local codes come first; where they give a setting or an order, follow them."


def in_turns(turns: float) -> str:
    """Turns as a mixed fraction, without sign: "1 1/4"; decimals where eighths do not tell it."""
    size = abs(turns)
    eighths = round(size * 8.0)
    if abs(eighths / 8.0 - size) > 0.01:
        return f"{size:.2f}".rstrip("0").rstrip(".")
    whole, rest = divmod(eighths, 8)
    part = str(Fraction(rest, 8)) if rest else ""
    return f"{whole} {part}".strip() if whole or not rest else part


def turned(turns: float, adjuster: Adjuster) -> str:
    """ "1/2 turn in, faster (0.5 turn, 3 flats of a nut)"."""
    if not turns:
        return "leave it"
    size = abs(turns)
    more = f"{size:g}"
    if size <= 2.0:  # nobody counts more than a dozen flats
        more += f", {in_turns(6.0 * size)} {'flat' if 6.0 * size <= 1.0 else 'flats'} of a nut"
    unit = "turn" if size <= 1.0 else "turns"
    return f"{in_turns(turns)} {unit} {adjuster.way(turns)} ({more})"


def standing(turns: float, adjuster: Adjuster) -> str:
    """Where it stands, from where it was found."""
    if not turns:
        return "as found"
    return f"{in_turns(turns)} {adjuster.more if turns > 0.0 else adjuster.less}"


def label(name: str) -> str:
    return name.replace("_", " ")


def steadiness(trial: Trial) -> str:
    """Steady or hunting, with the swing."""
    if trial.hunts is None:
        return "not looked at"
    if not trial.hunts:
        return "steady"
    return "hunting" if trial.swing is None else f"hunting, {trial.swing:.1f} Hz"


def show_before(screen: Screen, coach: Coach, knowledge: Knowledge, in_full: bool) -> None:
    """What has to be in order before anything is turned, and the cautions. in_full: with what keeps clear of each."""
    screen.heading(coach.pair.title)
    screen.line(coach.pair.brief)
    low, high = coach.wanted.low, coach.wanted.high
    for place, name in enumerate(coach.pair.readings):
        screen.fact(
            label(name).capitalize(),
            f"{low[place]:.1f} to {high[place]:.1f} Hz, aimed at {coach.goal.target[place]:.1f}",
        )
    if len(coach.pair.readings) > 1:
        least, most = coach.goal.difference
        screen.fact("Fall between them", f"{least:.1f} to {most:.1f} Hz")
    screen.line(LOCAL)
    screen.fact("In order first", "; ".join(title for title, _ in order_of(coach, knowledge)))
    known = [knowledge.catalogue.cautions[name] for name in cautions_of(coach, knowledge)]
    if not in_full:
        screen.fact("Cautions", ", ".join(caution.title.lower() for caution in known))
        return
    for caution in known:
        screen.caution(caution.title, caution.text.splitlines()[0])


def holds_of(coach: Coach, knowledge: Knowledge, features: Features) -> tuple[Hold, ...]:
    """What the trials hold, by the knowledge's danger limits."""
    found: dict[Hold, None] = {}
    for number, trial in enumerate(coach.trials[coach.safe :], coach.safe):
        fastest = max((value for value in trial.values if value is not None), default=0.0)
        read = {"hertz": fastest}
        if trial.swing and fastest:
            read["highest_hertz"] = fastest + 0.5 * trial.swing
        where = "Trial as found" if number == 0 else f"Trial {number}"
        found.update(dict.fromkeys(danger.of_meters(knowledge.catalogue, features, read, where)))
    return tuple(found)


def cautions_of(coach: Coach, knowledge: Knowledge) -> list[str]:
    """Cautions of turning, of reading and of the proof, each once, in the order of the knowledge."""
    turned = [knowledge.catalogue.adjusters[name].remedy for name in coach.names]
    read = [*coach.pair.readings.values(), coach.pair.swing, *(check for name in turned
            for check in knowledge.remedies[name].proof)]  # fmt: skip
    return list(of_steps(
        knowledge.catalogue, [*(("remedy", name) for name in turned), *(("check", name) for name in read)]
    ))  # fmt: skip


def show_trials(screen: Screen, coach: Coach, knowledge: Knowledge) -> None:
    """The trials as a table."""
    known = knowledge.catalogue.adjusters
    headers = ["Trial", *(label(name).capitalize() for name in (*coach.names, *coach.pair.readings)), "It"]
    rows = []
    for number, trial in enumerate(coach.trials):
        turns = [standing(at, known[name]) for at, name in zip(trial.place, coach.names, strict=True)]
        values = ["" if value is None else f"{value:.1f} Hz" for value in trial.values]
        rows.append(["as found" if number == 0 else str(number), *turns, *values, steadiness(trial)])
    screen.heading("Trials")
    screen.table(headers, rows)


def show_advice(screen: Screen, coach: Coach, advice: NextTurn, knowledge: Knowledge) -> None:
    """What to do next."""
    known = knowledge.catalogue.adjusters
    titles = {
        "begin": "First", "turn": "Next", "read again": "Read it again", "done": "Done", "stop": "STOP: overspeed",
        "diagnose": "Adjusting will not do it",
    }  # fmt: skip
    screen.heading(titles[advice.kind])
    if advice.kind == "stop":
        screen.problem("Shut it down now: fuel off, ignition off, or choke the air.")
        for reason in advice.reasons:
            screen.line(reason)
        limits = knowledge.catalogue.danger.values()
        for name in dict.fromkeys(name for limit in limits if "hertz" in limit.meters for name in limit.cautions):
            caution = knowledge.catalogue.cautions[name]
            screen.caution(caution.title, caution.text)
        screen.line("Turn the adjuster back only on the stopped set, once the throttle is proven to close by hand.")
        return
    if advice.kind == "turn" and advice.choice is not None:
        places = dict(zip(coach.names, advice.choice.place, strict=True))
        order = [name for name, _ in coach.in_order(advice.step)]
        for name in (*order, *(each for each in coach.names if each not in order)):
            made, turns, place = known[name], dict(coach.in_order(advice.step)).get(name, 0.0), places[name]
            screen.line(turned(turns, made), "bold", indent=f"{made.title}: ", hanging="  ")
            if turns and place:
                screen.line(f"it then stands {standing(place, made)} from where it was found", indent="  ")
    if advice.kind in ("turn", "done", "read again") and advice.choice is not None:
        parts = [
            f"{label(name)} {mean:.1f} \u00b1 {max(0.1, 2.0 * own):.1f} Hz"
            for name, mean, own in zip(coach.pair.readings, advice.choice.mean, advice.choice.deviation, strict=True)
        ]
        screen.fact("Expect" if advice.kind != "done" else "It stands at", ", ".join(parts))
    if advice.kind == "turn" and advice.choice is not None:
        screen.fact(
            "Chance",
            f"{percent(advice.choice.success)} that this is right, {percent(advice.choice.hunting)} that it hunts",
        )
    for reason in advice.reasons:
        screen.line(reason)
    if advice.kind == "done":
        proofs = dict.fromkeys(
            knowledge.checks[check].title
            for name in coach.names
            for check in knowledge.remedies[known[name].remedy].proof
        )
        screen.fact("Prove it", "; ".join(proofs))


def facts_text(coach: Coach, knowledge: Knowledge, features: Features, given: Mapping[str, str], tolerance: str,
               advice: NextTurn) -> str:  # fmt: skip
    """A facts file as YAML; every value is quoted, so that nothing in it can be taken for anything else."""
    lines = []
    if given:
        lines.append("set:")
        lines += [f"  {name}: {_quoted(value)}" for name, value in given.items()]
    if tolerance != "default":
        lines.append(f"tolerance: {_quoted(tolerance)}")
    lines.append("facts:")
    lines += [
        f"  - {{check: {check}, answer: {_quoted(answer)}}}"
        for check, answer in facts_of(coach, knowledge, features, advice)
    ]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def as_dict(
    coach: Coach, advice: NextTurn, knowledge: Knowledge, features: Features, tolerance: str
) -> dict[str, object]:
    """Plain values for JSON."""
    names = tuple(coach.pair.readings)
    edge, blur = coach.edge.boundary.edge
    expected = None
    if advice.choice is not None:
        expected = {
            "place": dict(zip(coach.names, advice.choice.place, strict=True)),
            "readings": {
                name: {"hz": mean, "deviation": own}
                for name, mean, own in zip(names, advice.choice.mean, advice.choice.deviation, strict=True)
            },
            "chance_right": advice.choice.success,
            "chance_hunting": advice.choice.hunting,
        }
    least, most = coach.goal.difference
    wanted = zip(names, coach.wanted.low, coach.wanted.high, coach.goal.target, strict=True)
    response = {
        name: {
            reading: {"hz_per_turn": slope, "deviation": own} for reading, (slope, own) in zip(names, row, strict=True)
        }
        for name, row in coach.shown_slopes().items()
    }
    return {
        "version": 1,
        "held": held.as_json(holds_of(coach, knowledge, features)),
        "pair": coach.pair.id,
        "set": dict(features),
        "tolerance": tolerance,
        "limits": {name: {"low": low, "high": high, "target": target} for name, low, high, target in wanted},
        "difference": {"low": least, "high": most} if len(names) > 1 else None,
        "trials": [
            {
                "place": dict(zip(coach.names, trial.place, strict=True)),
                "readings": dict(zip(names, trial.values, strict=True)),
                "hunting": trial.hunts, "swing": trial.swing, "minutes": trial.minutes,
            }
            for trial in coach.trials
        ],
        "advice": {
            "kind": advice.kind,
            "step": dict(zip(coach.names, advice.step, strict=False)),
            "expected": expected,
            "reasons": list(advice.reasons),
        },
        "response": response,
        "hunting_edge": {
            "on": coach.pair.hunts_on, "below": edge, "deviation": blur,
        },
        "findings": [{"check": each.check, "answer": each.answer, "why": each.why} for each in advice.findings],
        "facts": [{"check": check, "answer": answer} for check, answer in facts_of(coach, knowledge, features, advice)],
        "first": [{"title": title, "why": why} for title, why in order_of(coach, knowledge)],
        "cautions": cautions_of(coach, knowledge),
    }  # fmt: skip
