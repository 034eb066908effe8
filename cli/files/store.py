"""Where things are kept, and the one place that loads the knowledge.

Purpose: the folder of job files and the knowledge base, by option, by environment, or as shipped.
Law: nothing is written here; a folder is made only by the journal, when a job is begun.
Not here: what is in a job file (see `journal`).
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING

from ...engine.problems import HertzwrightError, quoted

if TYPE_CHECKING:
    from ...engine import Knowledge

HOME = "HERTZWRIGHT_HOME"


class FolderError(HertzwrightError):
    """A folder for jobs that cannot be. The message says which."""


def add_folder(parser: argparse.ArgumentParser) -> None:
    """The option that says where jobs are kept."""
    parser.add_argument(
        "--folder",
        metavar="FOLDER",
        help=f"keep jobs in FOLDER/jobs (also by the environment variable {HOME}; otherwise your own data folder)",
    )


def add_knowledge(parser: argparse.ArgumentParser) -> None:
    """The option that takes the knowledge of a checkout."""
    parser.add_argument("--knowledge", metavar="PATH", help="use the knowledge files in PATH, not the ones shipped")


def add_plain(parser: argparse.ArgumentParser) -> None:
    """The option for screen readers and plain printers."""
    parser.add_argument("--plain", action="store_true", help="no bars, lines or colour: one fact a line")


def jobs_folder(folder: str | None = None) -> Path:
    """Folder of the job files: of the option, else of the environment, else the user's data folder."""
    chosen = folder or os.environ.get(HOME)
    if chosen:
        home = Path(os.path.expanduser(chosen))
        if home.parts[:1] and home.parts[0].startswith("~"):
            where = "--folder" if folder else HOME
            raise FolderError(f"{where} {quoted(chosen)}: no home of {quoted(home.parts[0])} is known; give a folder")
        return home / "jobs"
    from platformdirs import user_data_path

    return user_data_path("hertzwright", appauthor=False) / "jobs"


def trainees_folder(jobs: Path) -> Path:
    """Folder of the trainees, beside that of the jobs."""
    return jobs.parent / "trainees"


def knowledge(path: str | None = None) -> Knowledge:
    """The shipped knowledge, or that of a folder. Raises KnowledgeError with every problem."""
    from ...engine import load_knowledge

    return load_knowledge(path)
