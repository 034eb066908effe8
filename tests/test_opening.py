"""The cautions before a job at 40 columns and 24 rows: at most two screens, and no danger left out.

Outside: none; two screens is the issue's own demand, and which dangers there are is the knowledge's.
"""

from __future__ import annotations

import io

import pytest

from hertzwright.cli.jobsite import safety, step_page
from hertzwright.cli.jobsite.session import Session
from hertzwright.cli.terminal import Screen
from hertzwright.cli.terminal.page import Page, lay_out
from hertzwright.engine import Job, Knowledge, load_knowledge


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


class Phone:
    width, height, drawn, blocks = 40, 24, True, True


class Yes:
    """Answers y, and keeps the pages."""

    def __init__(self) -> None:
        self.pages: list[Page] = []

    def ask(self, prompt: str, words: object = ()) -> str:
        return "y"

    def present(self, page: Page) -> str:
        self.pages.append(page)
        return "y"


def opened(knowledge: Knowledge) -> tuple[Session, Yes]:
    asker = Yes()
    session = Session(Job(knowledge), None, Screen(False, io.StringIO(), 40), asker)
    safety.opening(session)
    return session, asker


def test_the_opening_is_two_screens_and_names_every_danger(knowledge: Knowledge) -> None:
    _, asker = opened(knowledge)
    (page,) = asker.pages
    leaves = lay_out(page, Phone())
    assert len(leaves) <= 2
    shown = " ".join(" ".join(row.text.replace("\u258c", " ").split()) for leaf in leaves for row in leaf.rows)
    catalogue = knowledge.catalogue
    for name in {name for state in catalogue.states.values() for name in state.cautions}:
        caution = catalogue.cautions[name]
        assert caution.title in shown
        assert " ".join((caution.short or caution.text).split()) in shown, name


def test_what_stood_in_a_sentence_is_shown_in_full_where_a_step_meets_it_first(knowledge: Knowledge) -> None:
    session, asker = opened(knowledge)
    check = knowledge.checks["frequency_full_load"]
    assert safety.of_step(session, check, check.cautions, step_page.head(session, check, None)) is not None
    shown = {title for title, _ in asker.pages[-1].cautions}
    for name in ("shock", "backfeed", "load_bank_heat"):
        assert knowledge.catalogue.cautions[name].title in shown
    assert knowledge.catalogue.cautions["carbon_monoxide"].title not in shown
