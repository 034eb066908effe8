"""The session: a job, its file, the screen and the one who answers, together.

Purpose: everything that changes the job goes through here, so that it is on the disk before the next prompt.
Law: the job is changed first, then the file; an answer is confirmed on the screen only when both have it.
Not here: what to ask next (see `session`).
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from ...engine import ContradictionError, Job, JobError, Knowledge, Step
from ...engine.compiler import Check, Remedy, SettingStep, spoken
from ...engine.job import BESIDE, Event
from ...engine.problems import in_sentence
from ...engine.readings import Answer, after_yes_or_no, harmless, heard_as, yes_or_no
from ..files import Journal
from ..terminal import (
    BACK_WORDS,
    HELP_WORDS,
    STOP_WORDS,
    Asker,
    Back,
    Page,
    Screen,
    Stop,
    choose,
    choose_several,
    confirm,
    minutes,
    present,
    sheet,
)

GONE = ("gone", "")
"""The step that asks whether a trouble is gone."""
_SLOW = 1.0
_MANY = 60
_BESIDE = frozenset(("set", "stands", "closed", "reopened", *BESIDE))
"""Kinds of events that are taken back only with what was typed before them."""


class Waits(Exception):  # noqa: N818 - a wish of the technician, not an error
    """A step is not asked for now: it lacks what somebody said is not here, or what has come lets another be better."""


class Elsewhere(Exception):  # noqa: N818 - a wish of the technician, not an error
    """A command that leads away from a step was given where its dangers are asked: the command, and its words."""


def _nothing(session: Session, what: Check | Remedy | SettingStep, text: str) -> bool:
    return False


@dataclass(slots=True)
class Session:
    """One job at one terminal.

    acknowledged: steps whose dangers were acknowledged, with their states and cautions. seen: cautions shown in full.
    passed: steps put off for now. before: probabilities before the last answer.
    deepen: how many proposals are looked at two steps deep (see `Job.next_steps`). as_found_offered: the readings as
    found were offered once. still_off: how many events there were when something was said to be off still.
    digits: what a bare digit means on this job where it may be both: "answer" or "reading", empty until it was asked.
    offered: the one answer that a refusal proposed, which y takes right then and never later. met: the dangers
    acknowledged in this run, by set-up state; met_after: how much work was done before it.
    typed_at: how many events stood each time that something was asked, and for which step. told_open: what was said
    last to be unexplained where the proof is right. step: kind and id of what is asked now. again: of the step whose
    answer was taken back, which is asked next. put_offs: how many events stood as a step was put off, with its kind
    and id, latest last. rating_asked: the rated power was asked, and is not known. gated: a letter
    has just met the dangers of a step: the same letter, typed twice, is no answer to the step. aside: does what is
    typed where the dangers of a step are asked and is neither yes nor no; whether it was anything.
    """

    job: Job
    journal: Journal | None
    screen: Screen
    asker: Asker
    acknowledged: set[str] = field(default_factory=set)
    seen: set[str] = field(default_factory=set)
    passed: set[str] = field(default_factory=set)
    before: dict[str, float] = field(default_factory=dict)
    hinted: bool = False
    slow: bool = False
    deepen: int = 4
    as_found_offered: bool = False
    still_off: int = -1
    digits: str = ""
    offered: str = ""
    met: dict[str, set[str]] = field(default_factory=dict)
    met_after: int = -1
    typed_at: list[tuple[int, tuple[str, str] | None]] = field(default_factory=list)
    told_open: str = ""
    rating_asked: bool = False
    gated: bool = False
    aside: Callable[[Session, Check | Remedy | SettingStep, str], bool] = _nothing
    again: tuple[str, str] | None = None
    step: tuple[str, str] | None = None
    put_offs: list[tuple[int, str, str]] = field(default_factory=list)

    @property
    def knowledge(self) -> Knowledge:
        return self.job.knowledge

    # ---- asking

    def top(self) -> tuple[str, ...]:
        """The set, the minutes, held or safe, and how it stands: what stands above every page."""
        name = self.journal.head.set if self.journal is not None else "set"
        state = "HELD: must not run" if self.job.held else "safe"
        standing = self.knowledge.catalogue.states[self.job.here].title
        return name, minutes(self.job.minutes), state, in_sentence(standing)

    def present(self, page: Page, again: bool = False) -> str:
        """One line that answers a page. again: it was shown, and what was typed could not be used."""
        self._asks()
        return present(self.asker, self.screen, page, again)

    def ask(
        self,
        question: str = "",
        prompt: str = "> ",
        words: Sequence[str] = (),
        told: str = "In your own words.",
    ) -> str:
        """One line, what was typed for it. told: what is expected, for who asks by ?. Raises Back or Stop."""
        again = False
        while True:
            given = self.present(Page(question=question, prompt=prompt, words=tuple(words)), again)
            if given.lower() in BACK_WORDS:
                raise Back
            if given.lower() in STOP_WORDS:
                raise Stop
            if given.lower() not in HELP_WORDS:
                return given
            self.screen.note(f"{told} z goes back, x stops; what was kept stays.")
            again = True

    def choose(
        self, question: str, options: Sequence[str], default: int | None = None, also: Mapping[str, int] | None = None,
        aside: Callable[[str], bool] | None = None,
    ) -> int:  # fmt: skip
        """Position of the option taken (see `terminal.choose`). Raises Back or Stop."""
        self._asks()
        words = {**self._not_known(options), **(also or {})}
        return choose(self.asker, self.screen, question, options, default, words, True, self.heard, aside=aside)

    def choose_several(
        self, question: str, options: Sequence[str], together: int, default: int | None = None
    ) -> tuple[int, ...]:
        """The same, of a list of which the first so many may be taken together. Raises Back or Stop."""
        self._asks()
        words = self._not_known(options)
        return choose_several(self.asker, self.screen, question, options, together, default, words, True, self.heard)

    def _not_known(self, options: Sequence[str]) -> dict[str, int]:
        """All words for not known, where one option alone says that."""
        words = self.knowledge.catalogue.typed.not_known
        fits = [at for at, text in enumerate(options) if spoken(re.split("[,:]", text)[0]) in words]
        return dict.fromkeys(words, fits[0]) if len(fits) == 1 else {}

    def heard(self, text: str) -> Sequence[str]:
        """A text as it may be meant: as it stands, and without words that say nothing of their own."""
        return heard_as(self.knowledge.catalogue.typed, text)

    def says(self, text: str, words: Sequence[str]) -> bool:
        """Whether a text is one of some words, also with words beside them that say nothing of their own."""
        plain = yes_or_no(text)
        if plain is not None:
            return ("y" if plain else "n") in words
        answer, rest = after_yes_or_no(text)
        ways = (text.lower(), rest) if answer else (text.lower(),)
        return any(each in words for said in ways for each in (said, *self.heard(said)))

    def says_done(self, text: str, words: Sequence[str]) -> bool:
        """Whether a text says one of some words, and nothing beside them that denies it or takes it back: "done, the
        plate's free now"."""
        if self.says(text, words):
            return True
        answer, rest = after_yes_or_no(text)
        clauses = [each for each in re.split(r"\s*[,;]\s*|\.\s+", rest if answer else text) if each]
        so = answer or any(self.says(each, words) for each in clauses)
        return bool(so and answer is not False and all(harmless(each) or self.says(each, words) for each in clauses))

    def confirm(
        self, question: str, yes: str, no: str, page: Page | None = None, aside: Callable[[str], bool] | None = None
    ) -> bool:
        """A question that y or n alone answers (see `terminal.confirm`). Raises Back or Stop."""
        self._asks()
        self.gated = confirm(self.asker, self.screen, question, yes, no, back=True, page=page, aside=aside)
        return self.gated

    def sheet(self, write: Callable[[], None]) -> None:
        """Show in place what is printed, until a key."""
        self._asks()
        sheet(self.asker, self.screen, write)

    # ---- what changes the job

    def record(self, name: str, answer: str, happened: bool = False, said: str = "") -> Answer:
        """An answer to a check or complaint, which may have been said in other words. Raises AnswerError or JobError,
        and then nothing has changed."""
        chances = self._chances()
        found = self.job.record(name, answer, happened, said)
        self.before = chances
        self.keep()
        return found

    def carry_out(self, remedy: str, result: str = "unknown", happened: bool = False, left: Sequence[str] = ()) -> None:
        """left: the steps of it that were not done."""
        chances = self._chances()
        self.job.carry_out(remedy, result, happened, left)
        self.before = chances
        self.passed.clear()
        self.keep()

    def prove(self, result: str) -> None:
        """Keep the result of a proof run that no remedy went before."""
        self.job.prove(result)
        self.keep()

    def take_off(self, fitting: str, as_found: bool = False) -> None:
        self.job.take_off(fitting, as_found)
        self.keep()

    def put_back(self, fitting: str) -> None:
        self.job.put_back(fitting)
        self.keep()

    def not_here(self, tool: str) -> str:
        """A tool that is not there today. Returns its id. Raises JobError."""
        name = self.job.not_here(tool)
        self.keep()
        return name

    def has_come(self, tool: str) -> str:
        """A tool that was not there has come. Returns its id. Raises JobError."""
        name = self.job.has_come(tool)
        self.keep()
        return name

    def done_before(self, name: str, answer: str = "unknown") -> None:
        """What somebody did before the technician came. Raises JobError, AnswerError."""
        chances = self._chances()
        self.job.done_before(name, answer)
        self.before = chances
        self.keep()

    def note(self, text: str) -> None:
        self.job.note(text)
        self.keep()

    def note_once(self, text: str) -> None:
        """A note, unless it stands already."""
        if text not in [event.answer for event in self.job.standing if event.kind == "note"]:
            self.note(text)

    def acknowledge(self, step: str, what: str) -> None:
        self.job.acknowledge(step, what)
        self.keep()

    def leave(self, point: str, confirmed: bool) -> None:
        """Whether a point of the closing list is so."""
        self.job.leave(point, confirmed)
        self.keep()

    def secure(self, who: str) -> None:
        """The set is shut down and its throttle proven to close. Raises JobError where nobody is named."""
        self.job.secure(who)
        self.keep()

    def close(self, how: str) -> None:
        """Raises JobError where it cannot be closed so."""
        self.job.close(how)
        self.keep()

    def put_off(self, kind: str, name: str) -> None:
        """A step that is not proposed for now."""
        self.passed.add(name)
        self.put_offs.append((len(self.job.standing), kind, name))

    def take_up(self) -> str:
        """Propose again what was put off since anything was kept last, and ask it next. Its id, or its kind where it
        has none; empty for nothing."""
        at, kind, name = self.put_offs[-1] if self.put_offs else (-1, "", "")
        if at != len(self.job.standing) or name not in self.passed:
            return ""
        self.put_offs.pop()
        self.passed.discard(name)
        self.again = (kind, name)
        return name or kind

    def last(self) -> Event | None:
        """The latest answer, remedy or other work that stands, None where there is none."""
        return next((event for event in reversed(self.job.standing) if event.kind not in _BESIDE), None)

    def back(self, mistake: bool = False) -> Event | None:
        """Take back the latest thing that was typed, whole: with what was kept of the same line or followed from it by
        itself, and the notes made after it. Returns its first event. mistake: it never was so."""
        together = self.together()
        at = len(self.job.standing) - len(together)
        for _ in together:
            self.job.step_back(mistake)
        if not together:
            return None
        for event in together:  # that dangers were met stays so, whatever is taken back
            if event.kind == "acknowledged":
                self.job.acknowledge(event.id, event.answer)
        self.before = {}
        self.keep()
        first = next(event for event in together if event.kind not in _BESIDE)
        # Of an earlier session, and of a reading after a remedy, only the answer itself tells what was asked.
        step = next((step for mark, step in reversed(self.typed_at) if mark == at), (first.kind, first.id))
        after = step in [(event.kind, event.id) for event in self.job.standing if event.kind == "remedy"]
        self.again = (first.kind, first.id) if after else step
        return first

    def unsay(self) -> None:
        """Take back the latest thing that was typed, where the prompt that stands asks it anew."""
        self.back()
        self.again = None

    def together(self) -> tuple[Event, ...]:
        """The standing events of the latest thing that was typed, in their order; none where nothing is left.

        What was typed in an earlier session is known by its events alone: a turn, or that nothing moves, with the work
        and the findings that were kept with it.
        """
        standing = self.job.standing
        for mark, _ in reversed(self.typed_at):
            if mark < len(standing) and any(event.kind not in _BESIDE for event in standing[mark:]):
                return tuple(standing[mark:])
        at = next((at for at in reversed(range(len(standing))) if standing[at].kind not in _BESIDE), None)
        if at is None:
            return ()
        last, first = standing[at], at
        while first > 1 and last.kind == "set_to" and self._kept_with(last, standing[first - 1]):
            first -= 1
        return tuple(standing[first:])

    def _kept_with(self, turn: Event, earlier: Event) -> bool:
        """Whether an event was kept with a turn, or with that nothing moves: its work, or what that says of the set."""
        found = self.knowledge.catalogue.setting[turn.id].no_response if turn.answer == "no response" else {}
        finding = earlier.kind == "check" and found.get(earlier.id) == earlier.answer
        return finding or earlier.cells.get("step") == turn.id

    def _asks(self) -> None:
        """Something is asked now: what is kept from here on is what was typed for it."""
        self.screen.top = self.top()
        now = len(self.job.standing)
        while self.typed_at and self.typed_at[-1][0] >= now:
            self.typed_at.pop()
        self.typed_at.append((now, self.step))

    def take_out(self, event: Event, mistake: bool = False) -> None:
        """Take back one event, whenever it was: all after it are taken back too and then stand again."""
        self.job.take_out(event, mistake)
        self.before = {}
        self.keep()

    def keep(self) -> None:
        """Have every event on the disk. Asks what to do where that fails; raises Stop."""
        while self.journal is not None:
            try:
                self.journal.sync(self.job.events)
                return
            except JobError as error:
                self.screen.problem(f"{error}. The last answer is not kept yet.")
                if choose(self.asker, self.screen, "", ("try again", "stop without the last answer")) == 1:
                    raise Stop from None

    # ---- what follows from it

    def _chances(self) -> dict[str, float]:
        try:
            return self.job.posterior()
        except ContradictionError:
            return {}

    def steps(self) -> tuple[Step, ...]:
        """Proposals, best first. Raises ContradictionError."""
        if self.slow:
            first = self.job.next_steps(1, deepen=0)[0]
            self.screen.note(f"First thought, while the rest is worked out: {self.title(first)}.")
        began = time.monotonic()
        found = self.job.next_steps(_MANY, self.deepen)
        self.slow = time.monotonic() - began > _SLOW
        return found

    def what(self, step: Step) -> Check | Remedy | None:
        """The check or remedy that a proposal is, None where it is neither."""
        if step.kind == "check":
            return self.knowledge.checks[step.id]
        return self.knowledge.remedies[step.id] if step.kind == "remedy" else None

    def title(self, step: Step) -> str:
        """What a proposal is called."""
        if step.kind == "check":
            return self.knowledge.checks[step.id].title
        if step.kind == "remedy":
            return self.knowledge.remedies[step.id].title
        if step.id == "not_found":
            return "Not found: the complaint stands"
        return "Prove it and close" if step.kind == "done" else "Hand the set over"

    def causes_of(self, findings: Sequence[str]) -> list[Event]:
        """The standing events that findings of a ContradictionError name."""
        names = {finding.partition(" = ")[0].partition(": ")[0] for finding in findings}
        for name, check in self.job.checks.items():
            if name in names and check.derived_from is not None:
                names |= set(check.derived_from)
        return [event for event in self.job.standing if event.id in names]
