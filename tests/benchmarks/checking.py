"""How long `hertzwright knowledge check` takes, against parsing the same files: `python tests/benchmarks/checking.py`.

Each is done in one process in turn, the best of some runs in processor seconds. "Composing" makes nodes with positions
and nothing else, "loading" makes Python values; each with PyYAML's C parser and with its pure Python one.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path

import yaml

import hertzwright.knowledge
from hertzwright.engine.compiler import reader, source


def rows(folder: Path, runs: int) -> dict[str, float]:
    """Processor seconds by what was done, the best of `runs`."""
    files = sorted(path for path in folder.rglob("*.yaml"))

    def every(read: Callable[..., object], loader: object) -> Callable[[], object]:
        def work() -> None:
            for path in files:
                read(path.read_text(encoding="utf-8"), Loader=loader)

        return work

    work: dict[str, Callable[[], object]] = {
        "composing, C": every(yaml.compose, yaml.CSafeLoader),
        "loading, C": every(yaml.load, yaml.CSafeLoader),
        "reading into our tree, C": lambda: [source.read(path, path.name) for path in files],
        "composing, Python": every(yaml.compose, yaml.SafeLoader),
        "loading, Python": every(yaml.load, yaml.SafeLoader),
        "checking": lambda: reader.read_folder(folder, built=False),
        "checking and building": lambda: reader.read_folder(folder),
    }
    best: dict[str, float] = {}
    for run in range(runs):
        for name, do in work.items():
            if name.endswith("Python") and run > 0:
                continue  # a hundred times slower: once is enough
            began = time.process_time()
            do()
            best[name] = min(best.get(name, float("inf")), time.process_time() - began)
    return best


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--folder", type=Path, default=Path(next(iter(hertzwright.knowledge.__path__))))
    parser.add_argument("--runs", type=int, default=7)
    arguments = parser.parse_args()
    if not hasattr(yaml, "CSafeLoader"):
        print("PyYAML has no C parser here", file=sys.stderr)
        return 2
    found = rows(arguments.folder, arguments.runs)
    checking = found["checking"]
    print(f"{'':28}{'ms':>8}  checking takes")
    for name, seconds in found.items():
        print(f"{name:28}{1000 * seconds:8.1f}  {checking / seconds:6.2f} times that")
    return 0


if __name__ == "__main__":
    sys.exit(main())
