"""Command line: what commands that judge share. A file and the effort to be made come in, a report goes out."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from deadfront.claims.report import Progress, Report
    from deadfront.project.project import Project

SHOWN, REFUTED, WRONG_FILE, OPEN = 0, 1, 2, 3
"""Exit status: all shown or not applicable; something refuted; the file is wrong; nothing refuted, something open."""


def effort_options(parser: argparse.ArgumentParser) -> None:
    """Options on how hard to try."""
    parser.add_argument(
        "--fresh",
        action="store_true",
        help="judge anew, also if the same files were checked before with this tool",
    )
    parser.add_argument(
        "--budget",
        type=_whole,
        metavar="BOXES",
        help="effort before a question is left open, in boxes; of a claim 50000 if not given",
    )
    parser.add_argument(
        "--tolerance",
        type=_share,
        metavar="SHARE",
        help="distance of the worst case found from the proved bound that is near enough, for example 0.001",
    )


def _whole(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"expected a whole number from 1 on, got {text!r}")
    return int(text)


def _share(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0.0 < value < 1.0:
        raise argparse.ArgumentTypeError(f"expected a number between 0 and 1, got {text!r}")
    return value


def files_read(file: Path, project: Project) -> list[Path]:
    """The project file and the files it names, where they stand: none of them is ever written to as a result."""
    return [file, *(file.parent / name for name in project.files)]


def judged(chosen: argparse.Namespace, before: Callable[[Project], None] = lambda _project: None) -> Report:
    """The report of a file, recalled where the same was checked before, and then said so on standard error.

    before  called with the project before the work begins
    """
    from deadfront.claims.proving import with_effort
    from deadfront.project.reading import load
    from deadfront.recalling import RECALLED, checked

    effort = with_effort(chosen.budget, chosen.tolerance)
    project = load(chosen.file)
    before(project)
    found = checked(project, effort, progress(), fresh=chosen.fresh)
    if found.recalled:
        print(f"deadfront: {RECALLED}", file=sys.stderr)
    return found.report


def json_text(plain: Mapping[str, Any]) -> str:
    """One object as the commands print it."""
    import json

    return json.dumps(plain, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def exit_status(verdicts: Iterable[str]) -> int:
    """Exit status for a set of verdicts."""
    found = set(verdicts)
    if "refuted" in found:
        return REFUTED
    return OPEN if "open" in found else SHOWN


def wrong(errors: Exception) -> int:
    """Say what is wrong with a file, and return the status for it."""
    print(errors, file=sys.stderr)
    return WRONG_FILE


def progress() -> Progress | None:
    """A one-line progress display on a terminal's standard error; nothing elsewhere."""
    if not sys.stderr.isatty():
        return None

    def show(done: int, whole: int, what: str) -> None:
        text = f"checking {what} ({done} of {whole})" if done < whole else ""
        print(f"\r{text:<40}" if text else f"\r{'':<40}\r", end="", file=sys.stderr, flush=True)

    return show
