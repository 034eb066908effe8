"""A unit of the course on the screen: read, asked, drilled.

Purpose: the parts of a unit in words at any width; its three questions, each with what was right and why.
Law: what is right is said only after the answer. With nobody to ask the whole unit is shown, its answer at the end.
Not here: what a unit says (see the knowledge), when it is due (see the engine).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from ...engine import Knowledge
from ...engine.compiler import ShortDrillPlan, Unit, UnitAnswer
from ...engine.simulated import Draws
from ...engine.teaching import curve, made_up_set, short_drill, turned
from ..terminal import BACK_WORDS, STOP_WORDS, Asker, Choice, Line, Page, Screen, Stop, position, present, sketch
from . import curve as curve_view


@dataclass(frozen=True, slots=True)
class Asked:
    """Who is asked, on which screen, of which knowledge."""

    screen: Screen
    asker: Asker
    knowledge: Knowledge

    def pause(self) -> None:
        """Until the trainee has read on. Raises Stop where he would rather stop."""
        if getattr(self.asker, "scripted", False):
            return
        given = present(self.asker, self.screen, Page(hint="Enter: on; x: stop here", prompt="Enter> "))
        if given.lower() in STOP_WORDS:
            raise Stop

    def choose(self, title: str, body: Sequence[Line], question: str, options: Sequence[str]) -> int:
        """Position of the option taken. What the question is about stays on the page. Raises Stop."""
        choices = tuple(Choice(str(number), option) for number, option in enumerate(options, 1))
        page = Page(
            title=title, body=tuple(body), question=question, choices=choices, commands=frozenset(STOP_WORDS),
            words=tuple(options), at_once=True,
        )  # fmt: skip
        again = False
        while True:
            given = present(self.asker, self.screen, page, again)
            found, again = position(given, options), True
            if found is not None:
                return found
            if given.lower() in STOP_WORDS:
                raise Stop
            if given.lower() in BACK_WORDS:
                self.screen.problem(f'"{given}": there is nothing before this to go back to; x stops')
                continue
            near = [at for at, option in enumerate(options) if _says(option, given)]
            if len(near) == 1:
                self.screen.line(f"Did you mean {near[0] + 1}, {options[near[0]]} Type its number.")
                continue
            typed = f'"{given}": ' if given else ""
            what = "Nothing is looked up here: say what you think; it is told after. " if given == "?" else ""
            self.screen.problem(f"{what}{typed}expected 1 to {len(options)}, or x to stop")


def _says(option: str, given: str) -> bool:
    """Whether every word typed begins a word of an answer."""
    words = re.findall(r"[a-z0-9]+", option.lower())
    typed = re.findall(r"[a-z0-9]+", given.lower())
    return bool(typed) and all(any(word.startswith(part) for word in words) for part in typed)


def head(knowledge: Knowledge, unit: Unit) -> str:
    """The title of a unit with its place in the course."""
    return f"{list(knowledge.units).index(unit.id) + 1} of {len(knowledge.units)}: {unit.title}"


# ---- read


def text(screen: Screen, knowledge: Knowledge, unit: Unit) -> None:
    """What there is to know."""
    screen.heading(head(knowledge, unit))
    for sentence in unit.text.splitlines():
        screen.line(sentence)


def drawing(screen: Screen, knowledge: Knowledge, unit: Unit) -> None:
    """The drawing, where there is one."""
    found = knowledge.drawings.get(unit.drawing)
    if found is not None:
        screen.line(found.title, "bold")
        sketch.show(screen, found.art, found.in_words)
        # Plain output has all of it in words already.
        for sentence in found.in_words.splitlines()[:2] if screen.drawn else ():
            screen.line(sentence)


def turn(screen: Screen, knowledge: Knowledge, unit: Unit) -> None:
    """The curve of the simulated set, before and after the turn that the unit tells of."""
    if unit.curve is None:
        return
    bench = made_up_set(knowledge)
    made = (unit.curve.adjuster, unit.curve.turns)
    screen.line("See what a turn does", "bold")
    curve_view.show(screen, curve(bench, unit.curve.of), curve(turned(bench, *made), unit.curve.of), made)


def example(screen: Screen, knowledge: Knowledge, unit: Unit) -> None:
    """The worked example, and the cautions of the work."""
    screen.line("An example", "bold")
    screen.line(unit.example.text)
    for name in unit.cautions:
        caution = knowledge.catalogue.cautions[name]
        screen.caution(caution.title, caution.text)


def sources(screen: Screen, unit: Unit) -> None:
    """Where all of it comes from."""
    screen.note(f"Sources: {'; '.join(dict.fromkeys(str(source) for source in unit.sources))}.")


def whole(screen: Screen, knowledge: Knowledge, unit: Unit) -> None:
    """The whole unit, for a reader who is not asked."""
    text(screen, knowledge, unit)
    drawing(screen, knowledge, unit)
    turn(screen, knowledge, unit)
    example(screen, knowledge, unit)
    screen.line("Think first", "bold")
    screen.line(unit.prediction.question)
    screen.options((str(number), each.say) for number, each in enumerate(unit.prediction.answers, 1))
    for number, each in enumerate(unit.prediction.answers, 1):
        screen.line(f"{number} {'is right' if each.right else 'is not'}: {each.because}", hanging="  ")
    sources(screen, unit)


def walked(asked: Asked, unit: Unit) -> None:
    """The unit leaf by leaf."""
    for part in (text, drawing, turn, example):
        if part is turn and unit.curve is None:
            continue
        part(asked.screen, asked.knowledge, unit)
        asked.pause()


# ---- asked


def mixed(unit: Unit, seed: str) -> tuple[UnitAnswer, ...]:
    """The answers in an order that nobody learns instead of them."""
    draws = Draws("prediction", unit.id, seed)
    return tuple(sorted(unit.prediction.answers, key=lambda _: draws.uniform()))


def predicted(asked: Asked, unit: Unit, seed: str) -> bool:
    """Ask the prediction. Returns whether it was right."""
    screen, answers = asked.screen, mixed(unit, seed)
    at = asked.choose("Think first", (), unit.prediction.question, [each.say for each in answers])
    if answers[at].right:
        screen.line(f"Right. {answers[at].because}")
        return True
    right = next(each for each in answers if each.right)
    screen.line(f"No. {answers[at].because}")
    screen.line(f"Right is: {right.say} {right.because}")
    return False


def drilled(asked: Asked, plan: ShortDrillPlan, number: int, seed: str) -> bool:
    """Deal a short drill and ask for its cause. Returns whether it was named."""
    screen, knowledge = asked.screen, asked.knowledge
    dealt = short_drill(knowledge, plan, seed)
    body = [Line(f"Known already: {knowledge.causes[cause].title.lower()}.") for cause in plan.also]
    for look in dealt.looks:
        body.append(Line(f"{knowledge.checks[look.check].title}: {_shown(look.answer)}", "", "", "  "))
    titles = [knowledge.causes[cause].title for cause in dealt.causes]
    question = "What else is wrong with this set?" if plan.also else "What is wrong with this set?"
    at = asked.choose(f"Short drill {number} of 2", body, question, titles)
    right = dealt.causes[at] == dealt.truth
    truth = knowledge.causes[dealt.truth]
    screen.line("Right." if right else f"No, it is: {truth.title.lower()}.")
    told = dealt.gave_away
    screen.line(f"What gave it away: {knowledge.checks[told.check].title.lower()}, {_shown(told.answer)}. {plan.why}")
    return right


def _shown(answer: str) -> str:
    return "cannot be told on this set" if answer == "unknown" else answer.replace("_", " ")


# ---- as JSON


def as_dict(unit: Unit) -> dict[str, object]:
    """A unit as plain values."""
    return {
        "id": unit.id,
        "title": unit.title,
        "text": unit.text.splitlines(),
        "drawing": unit.drawing,
        "example": {"text": unit.example.text, "gives": unit.example.gives},
        "prediction": {
            "question": unit.prediction.question,
            "answers": [
                {"say": each.say, "right": each.right, "because": each.because} for each in unit.prediction.answers
            ],
        },
        "drills": [
            {"causes": list(plan.causes), "also": list(plan.also), "looks": list(plan.looks), "why": plan.why}
            for plan in unit.drills
        ],
        "cautions": list(unit.cautions),
        "sources": [str(source) for source in unit.sources],
    }
