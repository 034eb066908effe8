"""No id of the knowledge stands in code, but where the program's own arithmetic or physics is the thing itself.

Whoever edits the knowledge may retire a cause and name another; code that spells an id then does nothing, unnoticed.
What the code must find by itself is marked in the knowledge (`runs` of a set-up state, the cautions of a danger limit).
"""

from __future__ import annotations

import ast
from pathlib import Path

from hertzwright.engine import Knowledge, load_knowledge

ROOT = Path(__file__).parent.parent
KINDS = ("causes", "checks", "remedies", "complaints", "cautions")

ARITHMETIC = "the arithmetic here is the check, and what it finds is told as that check's answer"
PHYSICS = "the simulated set makes it: each cause and each check has its physics here, in a table with a line for each"
STEP = "a step of the load test, or a word for what the meter does, that happens to be spelled so"
STRUCTURE = {
    "engine/loadtest/entry_table.py": ({"complaints"}, STEP),
    "engine/loadtest/loadtest.py": ({"checks", "causes"}, f"{ARITHMETIC}; {STEP}"),
    "engine/rehearsal/setting_visit.py": ({"checks"}, "the proof of a set is read on the simulated one, at full length"),
    "engine/simulated/attachments.py": ({"causes", "checks"}, PHYSICS),
    "engine/simulated/faults.py": ({"causes"}, PHYSICS),
    "engine/simulated/looks.py": ({"checks"}, PHYSICS),
    "engine/simulated/measurements.py": ({"checks"}, PHYSICS),
    "engine/simulated/starting.py": ({"checks"}, PHYSICS),
    "engine/simulated/trials.py": ({"checks"}, PHYSICS),
    "engine/trace/findings.py": ({"checks"}, ARITHMETIC),
    "engine/trim/anomalies.py": ({"checks"}, ARITHMETIC),
    "engine/trim/coach.py": ({"checks"}, ARITHMETIC),
    "cli/measuring/load_questions.py": ({"causes"}, STEP),
    "cli/record/load_record.py": ({"checks"}, "the record of a load test names the checks that the test itself is"),
}  # fmt: skip


def ids_in(text: str, kinds: dict[str, str]) -> dict[str, set[str]]:
    """Kinds of the ids that stand as whole strings in a module, with the ids."""
    found: dict[str, set[str]] = {}
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value in kinds:
            found.setdefault(kinds[node.value], set()).add(node.value)
    return found


def kinds_of(knowledge: Knowledge) -> dict[str, str]:
    """The kind of each id of the knowledge."""
    catalogue = knowledge.catalogue
    return {name: kind for kind in KINDS for name in getattr(catalogue, kind)}


def test_no_id_of_the_knowledge_stands_in_code() -> None:
    kinds = kinds_of(load_knowledge())
    found = {
        str(path.relative_to(ROOT)): ids_in(path.read_text(encoding="utf-8"), kinds)
        for room in ("engine", "cli")
        for path in sorted((ROOT / room).rglob("*.py"))
    }
    wrong = [
        f"{path}: {kind} {', '.join(sorted(ids))}"
        for path, by_kind in found.items()
        for kind, ids in by_kind.items()
        if kind not in STRUCTURE.get(path, ((), ""))[0]
    ]
    assert wrong == [], "mark it in the knowledge, or say here why the program itself is what it names"
    idle = [path for path, (allowed, _) in STRUCTURE.items() if not allowed <= found.get(path, {}).keys()]
    assert idle == [], "no longer needed here"


def test_an_id_in_code_is_seen() -> None:
    kinds = kinds_of(load_knowledge())
    assert ids_in('x = {"hot_parts": 1}\nif cause == "speed_set_high": "see hot_parts"', kinds) == {
        "cautions": {"hot_parts"},
        "causes": {"speed_set_high"},
    }
