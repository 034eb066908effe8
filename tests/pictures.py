"""The README's pictures: one screen of a job and one of setting, as the program shows them on 40 columns and 24 rows.

    python -m tests.pictures

Plays two jobs at a screen that keeps its pages, and writes each last page as SVG to .github/pictures. The pages are the
program's own; only what the technician answers is written here, for a set of nobody's.
"""

from __future__ import annotations

import html
import io
import re
from collections.abc import Iterable
from pathlib import Path

from rich.console import Console
from rich.terminal_theme import DEFAULT_TERMINAL_THEME
from rich.text import Text

from hertzwright.cli.jobsite import steps
from hertzwright.cli.jobsite.session import Session
from hertzwright.cli.terminal import Page, Screen, Stop
from hertzwright.cli.terminal.page import Leaf, lay_out
from hertzwright.engine import Job, Knowledge, load_knowledge
from hertzwright.engine.setting import advise, put

FOLDER = Path(__file__).resolve().parents[1] / ".github" / "pictures"
WIDE, HIGH = 40, 24


class Phone(Screen):
    """A screen of 40 columns and 24 rows that can draw."""

    @property
    def height(self) -> int:
        return HIGH


class Keeps:
    """Gives the answers of a list, one to each page's last leaf, and keeps what was seen; stops after the last."""

    def __init__(self, screen: Screen, answers: Iterable[str]) -> None:
        self.screen, self.answers = screen, list(answers)
        self.seen: tuple[Leaf, ...] = ()

    def ask(self, prompt: str, words: Iterable[str] = ()) -> str:
        return self.present(Page(prompt=prompt))

    def present(self, page: Page) -> str:
        self.seen = lay_out(page, self.screen)
        if not self.answers:
            raise Stop
        return self.answers.pop(0)


def job_page(knowledge: Knowledge) -> Leaf:
    """A step of a job: a light swings with no load, what was felt by hand first."""
    job = Job(knowledge, {"booster": "none"})
    job.stands("running")
    for name, answer in (("hunts_no_load", "present"), ("linkage_by_hand", "comes back"), ("hose_look", "whole")):
        job.record(name, answer)
    for name in job.first_looks:
        job.record(name, "unknown")
    return _last(job, ())


def setting_page(knowledge: Knowledge) -> Leaf:
    """A step of setting: what is to be turned, which way and how far."""
    job = Job(knowledge, {"booster": "none", "ignition": "electronic"})
    job.begin_setting()
    shown = {"idle_needle_turns": "1.5 turns", "main_needle_turns": "1.25 turns", "frequency_no_load": "63.6 Hz"}
    while (said := advise(job)).kind != "turn":
        if said.check:
            check = job.checks[said.check]
            job.record(said.check, shown.get(said.check, check.normal))
        else:
            put(job, said)
    return _last(job, ())


def _last(job: Job, answers: Iterable[str]) -> Leaf:
    screen = Phone(False, io.StringIO(), WIDE)
    keeps = Keeps(screen, answers)
    session = Session(job, None, screen, keeps)
    catalogue = job.knowledge.catalogue
    session.seen.update(catalogue.cautions)  # read and acknowledged at the start of the job
    session.acknowledged.update(f"state {name}" for name in catalogue.states)
    session.acknowledged.update((*job.checks, *catalogue.setting))
    session.hinted = True
    steps.run(session)
    return keeps.seen[-1]


def svg(leaf: Leaf, title: str) -> str:
    """A page as a picture; no font is fetched from anywhere."""
    console = Console(record=True, width=WIDE, file=io.StringIO(), color_system="truecolor", legacy_windows=False)
    for row in leaf.rows:
        console.print(Text(row.text, style=row.style), no_wrap=True, overflow="crop")
    drawn = console.export_svg(title=title, theme=DEFAULT_TERMINAL_THEME, unique_id=title.replace(" ", "-"))
    # No link to anybody's fonts, nor a word on who drew it.
    drawn = re.sub(r"<!--.*?-->", "", drawn, flags=re.DOTALL)
    drawn = re.sub(r"@font-face \{.*?\}\s*", "", drawn, flags=re.DOTALL)
    drawn = re.sub(r"<g[^>]*>\s*(<circle[^>]*>\s*)+</g>", "", drawn)  # nor the buttons of anybody's window
    return re.sub(r"font-family: [^;]*;", "font-family: monospace;", drawn)


def words(picture: str) -> str:
    """All that a picture says, without its blanks."""
    found = "".join(re.findall(r"<text[^>]*>(.*?)</text>", picture, flags=re.DOTALL))
    return "".join(html.unescape(found).split())


PICTURES = {"job.svg": ("a step of a job", job_page), "setting.svg": ("a step of setting", setting_page)}


def main() -> None:
    knowledge = load_knowledge()
    FOLDER.mkdir(exist_ok=True)
    for name, (title, page) in PICTURES.items():
        (FOLDER / name).write_text(svg(page(knowledge), title), encoding="utf-8")
        print(FOLDER / name)


if __name__ == "__main__":
    main()
