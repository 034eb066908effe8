"""What is shown of a job: the leading causes, the next step, the reasons, the work so far.

Purpose: put the job into words and bars.
Law: reads the job, changes nothing.
Not here: how text is drawn (see `screen`), or asked for (see `session`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from ...engine import ContradictionError, Job
from ...engine.compiler import Check, Remedy, drawing_of
from ...engine.job import Event, FindingWeight, no_load_today, standing_complaints
from ...engine.loadtest import Site, derate
from ...engine.problems import AnswerError, in_sentence
from ...engine.setting import SettingAdvice, advise
from ..record import (
    CLOSINGS,
    answer_words,
    complaints,
    fitting_told,
    outside,
    setting_told,
    standing_told,
    titled,
    visit_told,
)
from ..terminal import Bar, minutes, percent, sketch
from .session import Session

_SHARES = {"full": 1.0, "three-quarter": 0.75, "half": 0.5, "quarter": 0.25}
_LOADS = re.compile(r"\b(full|three-quarter|half|(?<!three-)quarter) load\b(?! \()", re.IGNORECASE)
_NAMED = 5
"""Steps of setting that are named in one line."""
NOT_TODAY = "Not today: "
LITTLE = 0.1
"""Chance below which a cause is not named once a cure has proved itself."""
_WORK = ("complaint", "check", "remedy", "taken_off", "put_back", "before", "not_here", "here")
_BESIDE = {
    "note": "Note", "acknowledged": "Acknowledged", "secured": "Shut down and throttle proven to close, says",
    "closed": "Closed", "reopened": "Opened again", "feature": "Corrected", "load_reading": "Load reading",
    "proof": "Proof run",
}  # fmt: skip


def show_state(session: Session) -> None:
    """What is always in view: minutes, the set-up, what was done, and the leading causes."""
    job, screen = session.job, session.screen
    there = session.knowledge.catalogue.states[job.here].title
    screen.heading(f"{minutes(job.minutes)} spent | {in_sentence(there)}")
    done = summary(session)
    if done:
        some = done[-(3 if screen.narrow else 5) :]
        more = f"{len(done) - len(some)} earlier; " if len(done) > len(some) else ""
        screen.fact("Done", more + "; ".join(some))
    off = [session.knowledge.catalogue.fittings[each.fitting].title.lower() for each in job.off]
    screen.fact("Off now", ", ".join(off))
    leading(session)


def leading(session: Session) -> None:
    """The three to five most probable causes."""
    try:
        ranking = session.job.ranking()
    except ContradictionError:
        return
    most = 3 if session.screen.narrow else 5
    shown = [item for place, item in enumerate(ranking[:most]) if place < 3 or item[1] >= 0.02]
    bars = []
    for name, chance in shown:
        cause = session.knowledge.causes[name]
        title = cause.title if cause.fault else f"{cause.title} (no fault)"
        bars.append(Bar(title, chance, session.before.get(name)))
    session.screen.bars(bars)
    if aside := session.job.set_aside:
        found = "1 finding" if len(aside) == 1 else f"{len(aside)} findings"
        session.screen.note(f"Not weighed, too many at once: {found} from before earlier remedies.")


def leads(session: Session) -> str:
    """The leading cause; after a cure that proved itself only what is left. Raises IndexError where the set has no
    causes, ContradictionError."""
    job = session.job
    name, chance = job.ranking()[0]
    title = in_sentence(session.knowledge.causes[name].title)
    proven = job.epoch and "absent" in complaints(job).values() and not standing_complaints(job) and not outside(job)
    if proven and chance < LITTLE:
        return "Nothing more is suspected."
    return f"{'If anything is left' if proven and chance < 0.5 else 'Leads'}: {title}, {percent(chance)}."


def summary(session: Session) -> list[str]:
    """What was said, found and done, in order, one phrase each."""
    knowledge = session.knowledge
    answers = {(made.check, made.epoch): made for made in session.job.made}
    epoch, phrases = 0, []
    for event in session.job.standing:
        if event.kind == "remedy":
            epoch += 1
        if event.kind == "complaint":
            own = f', "{event.cells["said"]}"' if event.cells.get("said") else ""
            phrases.append(f"{knowledge.complaints[event.id].title}: {event.answer}{own}")
        elif event.kind == "check":
            made = answers.get((event.id, epoch))
            phrases.append(f"{knowledge.checks[event.id].title}: {answer_words(made) if made else event.answer}")
        elif event.kind == "remedy":
            left = event.cells.get("left", "")
            said = f"carried out, but not: {left}" if left else "carried out"
            phrases.append(f"{knowledge.remedies[event.id].title}: {said}")
        elif event.kind in ("taken_off", "put_back"):
            phrases.append(fitting_told(knowledge, event))
        elif event.kind in ("before", "not_here", "here"):
            phrases.append(visit_told(knowledge, event))
        elif event.kind == "set_to":
            phrases.append(setting_told(knowledge, event))
    return phrases


def everything(session: Session) -> None:
    """The whole record so far, notes among it."""
    screen = session.screen
    screen.heading("Done so far")
    rows, phrases = [], iter(summary(session))
    for event in session.job.standing[1:]:
        rows.append(next(phrases) if event.kind in _WORK else event_told(session, event))
    screen.numbered(rows)
    taken = len(session.job.events) - len(session.job.standing)
    if taken:
        screen.note(f"{taken // 2} taken back; the job file keeps them.")
    screen.note(session.job.line())


def event_told(session: Session, event: Event) -> str:
    """One event as a phrase."""
    if told := visit_told(session.knowledge, event):
        return told
    if event.kind in ("taken_off", "put_back"):
        return fitting_told(session.knowledge, event)
    if event.kind == "stands":
        return standing_told(session.knowledge, event)
    if event.kind in ("setting", "set_to"):
        return setting_told(session.knowledge, event)
    title = _BESIDE.get(event.kind) or titled(session.knowledge, event.id) or event.kind.replace("_", " ")
    if event.kind == "closed":
        return f"{title}: {CLOSINGS.get(event.id, event.id)}"
    if event.kind in ("feature", "load_reading"):
        cells: Mapping[str, object] = event.features or event.cells
        return f"{title}: {', '.join(f'{name} {value}' for name, value in cells.items())}"
    if event.kind == "note":
        return f"{title}: {event.answer}"
    return f"{title}: {event.answer.replace('_', ' ')}".removesuffix(": ")


def move(session: Session, to: str) -> str:
    """The change of the set-up that a step needs; empty where there is none."""
    states, costs = session.knowledge.catalogue.states, session.knowledge.catalogue.costs
    here = session.job.here
    to = costs.standing(here, to)
    if here == to:
        return ""
    return f"{states[here].title} -> {states[to].title} ({minutes(costs.moves[here, to])})"


def remedy_steps(session: Session, remedy: Remedy) -> tuple[str, ...]:
    """The steps of a remedy as they can be done today: those under load are left where the set cannot be loaded, and
    what is off beside it goes back on before a step of it starts the engine."""
    steps = _with_all_back_on(session, remedy)
    if not no_load_today(session.job):
        return tuple(with_load(session, text) for text in steps)
    left = steps_left(session, remedy)
    told = [f"{NOT_TODAY}{text}" if text in left else text for text in steps]
    if left:
        instead = remedy.without_load or "Leave what is done under load, and say so in a note."
        told.append(f"Without load: {instead} It closes as not proven under load.")
    return tuple(told)


def steps_left(session: Session, remedy: Remedy) -> tuple[str, ...]:
    """The steps of a remedy that cannot be done today, since they put load on."""
    if not no_load_today(session.job):
        return ()
    none_at_all = bool(session.job.lacking("done"))
    left = {*remedy.under_load, *(remedy.light_load if none_at_all else ())}
    return tuple(text for number, text in enumerate(remedy.steps, 1) if number in left)


def _with_all_back_on(session: Session, remedy: Remedy) -> tuple[str, ...]:
    catalogue, own = session.knowledge.catalogue, remedy.fits.puts_back
    titles = [catalogue.fittings[each.fitting].title for each in session.job.off if each.minutes]
    others = [title for title in titles if title not in {catalogue.fittings[name].title for name in own}]
    if not others or not remedy.runs_from:
        return remedy.steps
    back = f"Before the start, back on: {', '.join(in_sentence(title) for title in others)}."
    return (*remedy.steps[: remedy.runs_from - 1], back, *remedy.steps[remedy.runs_from - 1 :])


def with_load(session: Session, text: str) -> str:
    """A text with the kilowatts beside the first share of load that it names: full load (6.5 kW)."""
    return _LOADS.sub(lambda found: f"{found.group()} ({_kilowatts(session, found.group(1).lower())})", text, count=1)


def _kilowatts(session: Session, share: str) -> str:
    features = session.job.features
    site = Site(float(features["altitude"]), float(features["temperature"]))
    try:
        usable = derate(site).usable
    except AnswerError:
        usable = 1.0
    assumed = ", assumed" if "rated_kw" in session.job.assumed else ""
    return f"{float(features['rated_kw']) * usable * _SHARES[share]:.2g} kW{assumed}"


def how(session: Session, what: Check | Remedy) -> None:
    """How a step is done, with what, its cautions, what it does not prove, and where that comes from."""
    screen, catalogue = session.screen, session.knowledge.catalogue
    screen.heading(what.title)
    if isinstance(what, Check):
        told = what.how or ("No more is known about how than the question says.",)
        screen.numbered([with_load(session, text) for text in told])
        screen.fact("Does not prove", what.does_not_prove)
    else:
        screen.line(what.brief)
        screen.numbered(remedy_steps(session, what))
    screen.fact("Tools", ", ".join(what.tools))
    if what.tools:
        screen.note("One of these not here? Type no and its name, such as: no load bank")
    for name in dict.fromkeys((*what.cautions, *catalogue.states[what.state].cautions)):
        screen.caution(catalogue.cautions[name].title, catalogue.cautions[name].text)
    if what.sources:
        screen.note(f"Sources: {'; '.join(dict.fromkeys(str(source) for source in what.sources))}.")


def causes(session: Session) -> None:
    """The leading causes, and what was done so far."""
    session.screen.heading("Leading causes")
    leading(session)
    session.screen.fact("Done", "; ".join(summary(session)[-5:]))


def picture(session: Session, what: Check | Remedy) -> None:
    """A drawing of the part that a step is about."""
    found = drawing_of(session.knowledge, what.id)
    session.screen.heading(found.title if found is not None else what.title)
    if found is None:
        session.screen.note("There is no picture of this.")
    else:
        sketch.show(session.screen, found.art, found.in_words)


def finding(session: Session, text: str) -> str:
    """A finding as the engine tells it ("id = answer"), in words."""
    name, _, answer = text.partition(" = ")
    title = titled(session.knowledge, name)
    since = no_longer(session.job, name, answer)
    return f"{title}: {answer.replace('_', ' ')}{f' (then; since: {since})' if since else ''}" if title else text


def no_longer(job: Job, check: str, answer: str) -> str:
    """What has been done since a check gave this answer that bears on it, as a phrase; empty where the answer stands.

    It stays evidence of the set as it then was; as it is now is another matter.
    """
    knowledge = job.knowledge
    epochs = {made.epoch: made.answer.text for made in job.made if made.check == check}
    given = max((epoch for epoch, text in epochs.items() if text == answer), default=None)
    if given is None:
        return ""
    epoch = 0
    for event in job.standing:
        epoch += event.kind == "remedy"
        if epoch > given and event.kind == "remedy":
            if not knowledge.remedies[event.id].cures.keys().isdisjoint(knowledge.checks[check].parents):
                return in_sentence(knowledge.remedies[event.id].title)
        elif epoch >= given and event.kind == "set_to" and event.answer == "set":
            step = knowledge.catalogue.setting[event.id]
            if check in step.accepts and (at := event.cells.get("at", "")):
                return f"put to {at}"
    return "read again" if max(epochs) > given else ""


def weight(found: FindingWeight) -> str:
    """How strongly a finding speaks, in words and as a ratio."""
    ratio = found.ratio
    if ratio > 1:
        word = "strongly for" if ratio >= 10 else "for" if ratio >= 3 else "slightly for"
        return f"{word}, {ratio:.2g} times"
    word = "strongly against" if ratio <= 0.1 else "against" if ratio <= 1 / 3 else "slightly against"
    return f"{word}, {1 / ratio:.2g} times" if ratio > 0 else "rules it out"


def why(session: Session, what: Check | Remedy | None = None) -> None:
    """What a step tells, what speaks for and against the leading causes, and what other steps cost. Raises
    ContradictionError."""
    screen, job = session.screen, session.job
    if job.setting and (advice := advise(job, session.passed, 0)).kind not in ("search", "refer", "held"):
        _why_set(session, advice)
        return
    screen.heading("Why")
    steps = job.next_steps(6)
    for each in steps:
        if what is not None and each.id == what.id:
            screen.line(each.why)
    for name, chance in job.ranking()[:3]:
        cause = session.knowledge.causes[name]
        screen.line(
            f"{cause.title}: {percent(chance)} (before any finding {percent(cause.prior(job.features))})", "bold"
        )
        screen.line(cause.brief, indent="  ")
        for found in job.evidence_for(name)[:6]:
            said = ", ".join(finding(session, text) for text in found.facts)
            screen.line(f"{said} ({weight(found)})", indent="  - ")
    screen.heading("Steps compared, in expected minutes")
    rows = [(session.title(found), minutes(found.minutes), minutes(found.expected_minutes)) for found in steps]
    screen.table(("Step", "It takes", "To fixed and proven"), rows)


def _why_set(session: Session, advice: SettingAdvice) -> None:
    """Why a step of setting comes now: what it is for, what it waited for, and what comes after it."""
    screen, steps = session.screen, session.knowledge.catalogue.setting
    screen.heading("Why")
    if advice.step:
        step = steps[advice.step]
        screen.line(step.brief)
        before = [in_sentence(steps[name].title) for name in step.needs if name in steps]
        screen.fact("Right before it", ", ".join(before))
        disturbed = [in_sentence(steps[name].title) for name in step.disturbs if name in steps]
        screen.fact("It disturbs", ", ".join(disturbed))
    for sentence in advice.why:
        screen.line(sentence)
    later = [in_sentence(steps[name].title) for name in advice.left if name != advice.step]
    more = [f"and {len(later) - _NAMED} more"] if len(later) > _NAMED else []
    screen.fact("Not right yet", ", ".join([*later[:_NAMED], *more]))


def said(session: Session) -> str:
    """The complaints that stand, as one phrase."""
    names = [name for name, answer in complaints(session.job).items() if answer in ("present", "unsure")]
    return ", ".join(session.knowledge.complaints[name].title.lower() for name in names)
