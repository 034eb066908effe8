"""Setting a set in order without a prompt: what options say of it, what is next in a few lines, and the same as JSON.

Purpose: `start --set-in-order`, `resume --turned`, `--set-to` and `--no-response`, and `rank` of a file that says so.
Law: an option is refused with what was expected, and then nothing has changed.
Not here: the screens of a step (see `setting`), what comes next and why (see the engine).
"""

from __future__ import annotations

from collections.abc import Sequence

from ...engine import Job, JobError
from ...engine.compiler import parse_number
from ...engine.problems import close_to, quoted
from ...engine.setting import SettingAdvice, advise, course_of_job, not_responding, progress, put, turned, unresponsive
from ..terminal import minutes
from . import putting_back
from .session import Session
from .setting import begin, told_turns


def say_next(session: Session) -> None:
    """How far setting has come and the next step of it, in a few lines. Raises ContradictionError."""
    job, screen, advice = session.job, session.screen, advise(session.job)
    course = course_of_job(job)
    screen.heading(f"Setting {len(course.steps) - len(advice.left)} of {len(course.steps)} | {minutes(job.minutes)}")
    screen.fact("Next", told(session, advice))
    for reason in advice.why:
        screen.line(reason, indent="  ")
    back = [session.knowledge.catalogue.fittings[name].question for name in advice.put_back]
    screen.fact("Before it", " ".join(back))


def told(session: Session, advice: SettingAdvice) -> str:
    """What to do next, in one sentence."""
    knowledge = session.knowledge
    step = knowledge.catalogue.setting.get(advice.step)
    title = step.title if step is not None else ""
    if advice.kind == "held":
        return "Shut the set down and make it safe."
    if advice.kind == "done":
        return "All is set; close the job."
    if advice.kind in ("search", "refer"):
        name = advice.check or advice.remedy
        known = knowledge.checks.get(name) or knowledge.remedies.get(name)
        return f"First a fault: {known.title} ({name})." if known else "Hand the set over."
    if advice.kind == "read":
        return f"{title}: {knowledge.checks[advice.check].ask} ({advice.check})"
    if advice.kind == "work":
        return f"{title}: {knowledge.remedies[advice.remedy].title} ({advice.remedy})."
    if advice.kind == "turn":
        return f"{title}: {'; '.join(told_turns(session, advice))}."
    if advice.kind == "stuck":
        return f"{title} does not respond ({advice.step})."
    return f"{title}: {step.starts or ' '.join(step.how)} ({advice.step})" if step is not None else advice.kind


def as_json(job: Job) -> dict[str, object]:
    """The next step of setting and how far every step has come, as plain values."""
    advice = advise(job)
    return {
        "next": {
            "kind": advice.kind,
            "step": advice.step,
            "check": advice.check,
            "remedy": advice.remedy,
            "turns": dict(advice.turns),
            "expected": dict(advice.expected),
            "why": list(advice.why),
            "minutes": advice.minutes,
            "put_back": list(advice.put_back),
            "causes": [{"id": cause, "probability": chance} for cause, chance in advice.causes],
        },
        "steps": [
            {
                "id": each.id,
                "title": each.step.title,
                "state": each.state,
                "waits_for": list(each.waits_for),
                "because": each.because if not each.right else "",
                "readings": {check: answer.text for check, answer in each.readings.items()},
            }
            for each in progress(job)
        ],
    }


def apply(
    session: Session,
    in_order: bool,
    turns: Sequence[str],
    done: Sequence[str],
    stuck: str | None,
    back: Sequence[str],
    used: set[str],
) -> None:
    """What options say of setting: begin, what was turned for the next step, what was put or done, what does not
    respond. Raises JobError."""
    job = session.job
    if in_order and not job.setting:
        begin(session)
    made = {name.strip(): part for name, part in (_pair("--turned", pair) for pair in turns)}
    if made:
        advice = advise(job)
        if advice.kind != "turn":
            raise JobError(f"--turned: nothing is to be turned now; next is: {told(session, advice)}")
        for name in made:
            if name not in job.knowledge.catalogue.adjusters:
                known = job.knowledge.catalogue.adjusters
                hint = close_to(name, known, f"known are {', '.join(known)}")
                raise JobError(f"--turned {quoted(name)}: no such adjuster; {hint}")
        first = job.to_put_back("setting", advice.step) if job.runs(job.here) else ()
        putting_back.without_asking(session, first, advice.step, back)
        used.update(first)
        turned(job, advice, {name: _turns(name, part) for name, part in made.items()})
    for each in done:
        name, _, at = (part.strip() for part in each.partition("="))
        if name not in course_of_job(job).steps:
            raise JobError(f"--set-to {quoted(name)}: {close_to(name, course_of_job(job).steps, 'no such step')}")
        first = job.to_put_back("setting", name)
        putting_back.without_asking(session, first, name, back)
        used.update(first)
        put(job, SettingAdvice("place", name), at)
    if stuck is not None:
        steps = course_of_job(job).steps
        if stuck not in steps:
            raise JobError(f"--no-response {quoted(stuck)}: {close_to(stuck, steps, 'no such step')}")
        not_responding(job, unresponsive(job, stuck))
    session.keep()


def _pair(option: str, pair: str) -> tuple[str, str]:
    name, equals, value = pair.partition("=")
    if not equals:
        raise JobError(f"{option} {quoted(pair)}: expected ADJUSTER=TURNS, such as speed=+1.5")
    return name, value.strip()


def _turns(name: str, text: str) -> float:
    try:
        return parse_number(text)
    except ValueError:
        raise JobError(f"--turned {name}={text}: expected turns, such as +1.5 or -1 1/4") from None
