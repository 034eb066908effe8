"""Sense: does what the files say hold together, over the whole knowledge base.

Purpose: which rules there are, and when each is run: one small function each, named after what must hold, in
`cause_rules`, `work_rules`, `reading_rules`, `drawing_rules`, `unit_rules`, `case_rules` and `writing`. A rule yields
problems and decides nothing.
Law: a rule looks at trees, so that it runs whatever else is wrong; a rule about the whole (`WHOLE`) runs only where
every file has its right shape, since a missing piece would set off all of them.
Not checked here: the shape of files (see `schema`), whether names exist (see `names`), how files are written
(see `writing`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ..problems import Problem
from . import case_rules, cause_rules, drawing_rules, reading_rules, unit_rules, work_rules
from .entries import Entries
from .writing import comments_stand_alone, key_order, long_lines, quotes_are_straight, sentences

Rule = Callable[[Entries], Iterator[Problem]]


def problems(entries: Entries, whole: bool) -> list[Problem]:
    """Every breach of a rule. `whole`: every file was read and has its right shape."""
    return [problem for rule in (*LOCAL, *(WHOLE if whole else ())) for problem in rule(entries)]


LOCAL: tuple[Rule, ...] = (
    cause_rules.strengths_sum_to_one,
    cause_rules.part_sums_to_less_than_one,
    cause_rules.leaks_are_given,
    cause_rules.affected_or_not,
    work_rules.order_has_no_circle,
    work_rules.setting_has_no_circle,
    work_rules.setting_can_be_accepted,
    work_rules.dangers_have_cautions,
    work_rules.runs_with_everything_on,
    work_rules.fittings_are_asked_one_way,
    work_rules.fittings_go_back_on_a_standing_set,
    work_rules.named_steps_are_there,
    work_rules.derived_readings_can_be_computed,
    reading_rules.bands_are_whole,
    reading_rules.readings_reach_outcomes,
    reading_rules.readings_have_their_features,
    reading_rules.what_is_said_is_said_for_one,
    reading_rules.ranges_fit,
    drawing_rules.drawings_can_be_shown,
    drawing_rules.steps_have_one_drawing,
    case_rules.pairs_turn_on_one_fact,
    case_rules.wanted_or_not,
    case_rules.leads_are_true,
    case_rules.answered_once,
    unit_rules.units_are_short,
    unit_rules.one_answer_is_right,
    unit_rules.examples_show_their_figures,
    unit_rules.short_drills_can_be_told,
    long_lines,
    sentences,
    comments_stand_alone,
    quotes_are_straight,
    key_order,
)
WHOLE: tuple[Rule, ...] = (
    cause_rules.outcomes_are_possible,
    cause_rules.causes_are_shown,
    cause_rules.causes_are_complained_of,
    cause_rules.causes_are_told_apart,
    cause_rules.left_out_is_meant,
    cause_rules.causes_have_a_remedy,
    cause_rules.remedies_cure,
    work_rules.moves_are_complete,
)
OF_THE_WHOLE = frozenset({"K040", "K041", "K042", "K043", "K044", "K046", "K048", "K054", "K100"})
"""The codes that the rules about the whole give: they are not looked for while a file has a wrong shape."""
