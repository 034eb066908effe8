"""How far one typed reading goes: the modules and functions that "61.5 Hz" passes on its way to the next prompt.

    python -m tests.benchmarks.hops

Prints a table of rooms for each part of the way: from the keyboard to the disk, what follows from it, and the page that
asks next. A function counts once however often it is called; `passed` counts those that only hand on (one statement,
a call). Functions of other packages do not count. Nothing is asserted.
"""

from __future__ import annotations

import ast
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from types import CodeType, FrameType

from hertzwright.cli.jobsite import steps
from hertzwright.cli.jobsite.session import Session
from hertzwright.cli.terminal import Stop
from hertzwright.engine import Job, load_knowledge
from tests.technician import desk_of

READING = "61.5 Hz"
CHECK = "frequency_no_load"
PARTS = ("to the disk", "what follows", "the next page")
_COMPREHENSIONS = ("<listcomp>", "<setcomp>", "<dictcomp>", "<genexpr>", "<lambda>")


class Way:
    """What was called, by part of the way, while it is switched on."""

    def __init__(self) -> None:
        self.part = ""
        self.seen: dict[str, Counter[CodeType]] = {part: Counter() for part in PARTS}

    def __call__(self, frame: FrameType, event: str, _: object) -> None:
        code = frame.f_code
        if event == "call" and self.part and _module(code.co_filename) and code.co_name not in _COMPREHENSIONS:
            self.seen[self.part][code] += 1

    def end(self) -> None:
        self.part = ""


def _module(file: str) -> tuple[str, ...]:
    """Room and module of a file of this project, empty for others."""
    path = Path(file)
    roots = [at for at, name in enumerate(path.parts) if name in ("engine", "cli")]
    return path.parts[roots[-1] :] if roots and path.suffix == ".py" and "site-packages" not in path.parts else ()


def walk(folder: Path) -> Way:
    """One reading typed at the check that asks for it, in a job that a complaint began, until the next prompt."""
    job = Job(load_knowledge())
    job.record("floats_high_no_load", "present")
    way = Way()
    given = iter((READING,))

    def answer(_: str) -> str:
        way.end()
        try:
            text = next(given)
        except StopIteration:
            raise Stop from None
        way.part = PARTS[0]
        return text

    session, _ = desk_of(job, answer, folder)
    session.job.next_steps(1)  # what is worked out once stands already, as it does at a set
    keep, next_steps = Session.keep, Job.next_steps

    def kept(self: Session) -> None:
        keep(self)
        if way.part == PARTS[0]:
            way.part = PARTS[1]

    def planned(self: Job, *arguments: int, **named: int) -> object:
        found = next_steps(self, *arguments, **named)
        if way.part == PARTS[1]:
            way.part = PARTS[2]
        return found

    Session.keep, Job.next_steps = kept, planned  # type: ignore[assignment, method-assign]
    sys.setprofile(way)
    try:
        steps.one_check(session, CHECK)
        steps.run(session)
    except Stop:
        pass
    finally:
        sys.setprofile(None)
        Session.keep, Job.next_steps = keep, next_steps  # type: ignore[method-assign]
    return way


def handing_on(codes: Iterable[CodeType]) -> int:
    """How many of these functions do nothing but call another."""
    return sum(_hands_on(code) for code in codes)


def _hands_on(code: CodeType) -> bool:
    for node in ast.walk(ast.parse(Path(code.co_filename).read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef) and node.name == code.co_name:
            first = min([node.lineno, *(each.lineno for each in node.decorator_list)])
            if first == code.co_firstlineno:
                body = [each for each in node.body if not _is_docstring(each)]
                value = getattr(body[0], "value", None) if len(body) == 1 else None
                return isinstance(value, ast.Call) and not any(
                    isinstance(inner, ast.Call) for each in ast.iter_child_nodes(value) for inner in ast.walk(each)
                )
    return False


def _is_docstring(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def row(name: str, codes: Sequence[CodeType], calls: int) -> str:
    """One line of the table."""
    modules = {_module(code.co_filename) for code in codes}
    rooms = {each[:-1] for each in modules}
    return f"{name:16}{len(rooms):6}{len(modules):9}{len(codes):11}{handing_on(codes):9}{calls:8}"


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        way = walk(Path(folder))
    print(f'"{READING}" typed at {CHECK}, to the next prompt')
    print(f"{'part of the way':16}{'rooms':>6}{'modules':>9}{'functions':>11}{'passed':>9}{'calls':>8}")
    for part, seen in way.seen.items():
        print(row(part, list(seen), sum(seen.values())))
    whole = {code: None for seen in way.seen.values() for code in seen}
    print(row("the whole way", list(whole), sum(sum(seen.values()) for seen in way.seen.values())))
    print(f"\n{PARTS[0]}:")
    for code in way.seen[PARTS[0]]:
        mark = " (hands on)" if _hands_on(code) else ""
        print(f"  {'/'.join(_module(code.co_filename)).removesuffix('.py'):34} {code.co_qualname}{mark}")


if __name__ == "__main__":
    main()
