"""A facts file: what is known of one set, as YAML or JSON, with the line of each fact.

Purpose: `rank FILE` and `start --from FILE` take a set and its facts from here.
Law: whatever the file holds, the caller gets facts, or one JobError with all that is wrong as file:line messages.
Not checked here: whether answers fit their checks; `record_fact` says so, with the line, when the job takes them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ...engine.compiler import SIZE_LIMIT, MappingNode, Node, ScalarNode, SequenceNode, SourceFile, parse, read
from ...engine.problems import HertzwrightError, close_to, printable, quoted
from . import input_file
from .set_option import stands_given

if TYPE_CHECKING:
    from ...engine import Job, Knowledge

KINDS = ("complaint", "check", "remedy", "setting", "before", "secured")
MOST = 500  # each fact is weighed with all before it
MOST_FAULTS = 50
_TOP = ("set", "tolerance", "stands", "without", "setting", "facts")


class FactsError(HertzwrightError):
    """A facts file that cannot be used. One line for each thing that is wrong with it."""


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact: `kind` is complaint, check, remedy, setting, before or secured; `answer` is as a technician gives it.
    That of a setting is "set", "set" and where, "no response", or "turned" and the turns by adjuster."""

    kind: str
    id: str
    answer: str
    line: int


@dataclass(frozen=True, slots=True)
class FactsFile:
    """What a facts file says. `lines` has the line of each feature of the set, and of `stands`, how the set stood.
    `without`: tools that are not there, each with its line."""

    file: str
    features: Mapping[str, str]
    lines: Mapping[str, int]
    facts: tuple[Fact, ...]
    tolerance: str = ""
    stands: str = ""
    setting: bool = False
    """Whether the set is to be set in order from the ground up."""
    without: tuple[tuple[str, int], ...] = ()


def read_facts(name: str) -> FactsFile:
    """The facts of a file, or of standard input for "-". Raises FactsError."""
    if name == "-":
        data = input_file.read_whole(name, SIZE_LIMIT, FactsError, ", so not a file of facts")
        return facts_of(parse(data, input_file.file_name(name)))
    return facts_of(read(Path(name), printable(name), pipes=True))


def facts_of(page: SourceFile) -> FactsFile:
    """The facts of a page that was read. Raises FactsError."""
    faults = [f"{page.file}:{problem.line}: {problem.message}" for problem in page.problems]
    if not faults and not isinstance(page.root, MappingNode):
        faults = [f"{page.file}:1: expected a mapping with `set` and `facts`"]
    if faults or not isinstance(page.root, MappingNode):
        raise FactsError("\n".join(faults))
    top = page.root

    def wrong(node: Node, message: str) -> None:
        faults.append(f"{page.file}:{node.line}: {message}")

    for key, text in top.keys.items():
        if len(faults) == MOST_FAULTS:
            break
        if key not in _TOP:
            wrong(text, f"unknown key {quoted(key)}; " + close_to(key, _TOP, f"known are {', '.join(_TOP)}"))
    features, lines = _features(top.values.get("set"), wrong)
    tolerance = top.values.get("tolerance")
    if tolerance is not None and not isinstance(tolerance, ScalarNode):
        wrong(tolerance, "`tolerance` is the name of a tolerance set")
    stands = top.values.get("stands")
    if isinstance(stands, ScalarNode):
        lines["stands"] = stands.line
    elif stands is not None:
        wrong(stands, "`stands` is how the set stood when the technician came, such as `stands: cold`")
    absent = top.values.get("without")
    missing = absent.items if isinstance(absent, SequenceNode) else ()
    if absent is not None and not isinstance(absent, SequenceNode) and not _empty(absent):
        wrong(absent, "`without` is a list of tools that are not there today, such as `without: [load bank]`")
    for node in missing:
        if not isinstance(node, ScalarNode):
            wrong(node, "expected the name of a tool")
    setting = top.values.get("setting")
    if setting is not None and (
        not isinstance(setting, ScalarNode) or setting.value not in ("yes", "no", "true", "false")
    ):
        wrong(setting, "`setting` is yes where the set is to be set in order from the ground up, else no")
    facts = _facts(top.values.get("facts"), faults, wrong)
    if faults:
        raise FactsError("\n".join(faults))
    return FactsFile(
        page.file,
        features,
        lines,
        facts,
        tolerance.value if isinstance(tolerance, ScalarNode) else "",
        stands.value if isinstance(stands, ScalarNode) else "",
        isinstance(setting, ScalarNode) and setting.value in ("yes", "true"),
        tuple((node.value, node.line) for node in missing if isinstance(node, ScalarNode)),
    )


def _features(described: Node | None, wrong: Callable[[Node, str], None]) -> tuple[dict[str, str], dict[str, int]]:
    """Features of the set as written, and their lines."""
    features: dict[str, str] = {}
    lines: dict[str, int] = {}
    if isinstance(described, MappingNode):
        for key, node in described.values.items():
            if isinstance(node, ScalarNode):
                features[key], lines[key] = node.value, node.line
            else:
                wrong(node, f"{printable(key)}: expected one value")
    elif described is not None and not _empty(described):
        wrong(described, "`set` holds features of the set, such as `rated_kw: 9`")
    return features, lines


def _facts(listed: Node | None, faults: Sequence[str], wrong: Callable[[Node, str], None]) -> tuple[Fact, ...]:
    """The facts as listed, as far as they are read. faults: what was found wrong so far; more is told by `wrong`."""
    if listed is not None and not isinstance(listed, SequenceNode) and not _empty(listed):
        wrong(listed, "`facts` is a list of facts, such as `- {check: frequency_no_load, answer: 64.1 Hz}`")
    facts = []
    for number, node in enumerate(listed.items if isinstance(listed, SequenceNode) else ()):
        if number == MOST or len(faults) >= MOST_FAULTS:
            wrong(node, f"more than {MOST} facts of one set" if number == MOST else "the rest was not read")
            break
        found = _fact(node)
        if isinstance(found, Fact):
            facts.append(found)
        else:
            wrong(node, found)
    return tuple(facts)


def _empty(node: Node) -> bool:
    return isinstance(node, ScalarNode) and node.value in ("", "null", "~") and not node.style


def _fact(node: Node) -> Fact | str:
    """The fact, or what is wrong with it."""
    example = "{check: ID, answer: ANSWER}, {complaint: ID, answer: present} or {remedy: ID, result: cured}"
    if isinstance(node, MappingNode) and "secured" in node.values:
        who = node.values["secured"]
        if len(node.values) > 1 or not isinstance(who, ScalarNode):
            return "expected {secured: NAME} alone: who shut the set down and proved that its throttle closes"
        return Fact("secured", "", who.value, node.line)
    if not isinstance(node, MappingNode):
        return f"expected a fact, {example}"
    kinds = [kind for kind in KINDS if kind in node.values]
    if len(kinds) != 1:
        return f"expected exactly one of complaint, check, remedy and before; a fact is {example}"
    kind = kinds[0]
    field = "result" if kind in ("remedy", "setting") else "answer"
    if kind == "before" and field not in node.values and len(node.values) == 1:
        done = node.values[kind]
        if isinstance(done, ScalarNode):
            return Fact(kind, done.value, "unknown", node.line)
    for key in node.values:
        if key not in (kind, field):
            return f"unknown key {quoted(key)} in this {kind}; expected {kind} and {field}"
    name, answer = node.values[kind], node.values.get(field)
    if answer is None:
        return f"this {kind} has no {field}; a fact is {example}"
    if not isinstance(name, ScalarNode) or not isinstance(answer, ScalarNode):
        return f"expected one value for {kind} and one for {field}"
    return Fact(kind, name.value, answer.value, node.line)


def job_of(knowledge: Knowledge, facts: FactsFile, tolerance: str = "default", stands: str = "") -> Job:
    """The job that these facts make. stands: how the set stood, where the file does not say.

    Raises FactsError with the line of the first fact that does not fit, UsageError for `stands`.
    """
    from ...engine import Job
    from ...engine.compiler import read_features

    for name, value in facts.features.items():
        try:
            read_features({name: value}, knowledge.catalogue.features)
        except HertzwrightError as error:
            raise FactsError(f"{facts.file}:{facts.lines[name]}: {error}") from None
    job = Job(knowledge, dict(facts.features), facts.tolerance or tolerance)
    if facts.stands:
        try:
            job.stands(facts.stands)
        except HertzwrightError as error:
            raise FactsError(f"{facts.file}:{facts.lines['stands']}: {error}") from None
    elif stands:
        stands_given(job, stands)
    record_absent(job, facts)
    if facts.setting:
        job.begin_setting()
    for fact in facts.facts:
        record_fact(job, fact, facts.file)
    return job


def record_absent(job: Job, facts: FactsFile) -> None:
    """Record the tools that are not there. Raises FactsError with the line of one that is unknown."""
    for name, line in facts.without:
        try:
            job.not_here(name)
        except HertzwrightError as error:
            raise FactsError(f"{facts.file}:{line}: {error}") from None


def record_fact(job: Job, fact: Fact, file: str) -> None:
    """Record one fact. What a file says happened before anybody read it, so it is taken, held or not.

    Raises FactsError with its line, and then the job has not changed.
    """
    knowledge = job.knowledge
    if fact.kind == "secured":
        try:
            job.secure(fact.answer)
        except HertzwrightError as error:
            raise FactsError(f"{file}:{fact.line}: {error}") from None
        return
    if fact.kind == "before":
        try:
            job.done_before(fact.id, fact.answer)
        except HertzwrightError as error:
            raise FactsError(f"{file}:{fact.line}: {error}") from None
        return
    known: Mapping[str, object] = {
        "complaint": knowledge.complaints, "check": knowledge.checks, "remedy": knowledge.remedies,
        "setting": knowledge.catalogue.setting,
    }[fact.kind]  # fmt: skip
    try:
        if fact.id not in known:
            kinds = _kinds_of(knowledge, fact.id)
            other = f"; it is a {kinds}" if kinds else ""
            hint = close_to(fact.id, known)
            raise FactsError(f"no {fact.kind} {quoted(fact.id)}{other}{'; ' + hint if hint and not other else ''}")
        if fact.kind == "remedy":
            job.carry_out(fact.id, fact.answer, happened=True)
        elif fact.kind == "setting":
            _set_to(job, fact)
        else:
            job.record(fact.id, fact.answer, happened=True)
    except HertzwrightError as error:
        raise FactsError(f"{file}:{fact.line}: {error}") from None


def _set_to(job: Job, fact: Fact) -> None:
    """What was done for a step of setting. Raises JobError."""
    word, _, rest = " ".join(fact.answer.split()).partition(" ")
    if fact.answer == "no response":
        job.set_to(fact.id, "no response")
    elif word == "set":
        job.set_to(fact.id, "set", {"at": rest} if rest else {})
    elif word == "turned":
        cells = dict(part.strip().rpartition(" ")[::2] for part in rest.split(","))
        adjusters = job.knowledge.catalogue.adjusters
        works = [adjusters[name].remedy for name in cells if name in adjusters]
        job.set_to(fact.id, "turned", cells, works)
    else:
        job.set_to(fact.id, fact.answer)


def _kinds_of(knowledge: Knowledge, name: str) -> str:
    tables: Iterator[tuple[str, Mapping[str, object]]] = iter(
        (
            ("complaint", knowledge.complaints),
            ("check", knowledge.checks),
            ("remedy", knowledge.remedies),
            ("setting", knowledge.catalogue.setting),
        )
    )
    return next((kind for kind, table in tables if name in table), "")
