"""Command line: `dossier` and `recheck`. A file comes in, its dossier as PDF, or what differs from it, goes out."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from deadfront.command_parts import (
    OPEN,
    REFUTED,
    SHOWN,
    WRONG_FILE,
    effort_options,
    files_read,
    judged,
    progress,
    wrong,
)

if TYPE_CHECKING:
    from deadfront.claims.breaking import Followed
    from deadfront.claims.report import Report


def add_dossier(parser: argparse.ArgumentParser) -> None:
    """Options of `dossier`."""
    parser.add_argument("file", type=Path, metavar="FILE", help="project file")
    parser.add_argument("-o", "--output", type=Path, metavar="PDF", help="where to write; beside the file if not given")
    parser.add_argument(
        "--part", choices=["whole", "procedures"], default="whole", help="`procedures`: only the sheets of the crew"
    )
    parser.add_argument(
        "--break-points",
        action="store_true",
        help="add how far each range may move before a verdict flips; takes several times as long",
    )
    effort_options(parser)
    parser.epilog = (
        "exit status: 0 the dossier is written, whatever its verdicts are (the status of `check` says those), "
        "2 the file is wrong, or the dossier cannot be written"
    )
    parser.set_defaults(run=_run_dossier)


def add_recheck(parser: argparse.ArgumentParser) -> None:
    """Options of `recheck`."""
    parser.add_argument("file", type=Path, metavar="PDF", help="dossier")
    parser.epilog = (
        "exit status: 0 claims and sheets are those that its files give, 1 something differs, 2 the file is no "
        "dossier, 3 no claim differs, but the sheets could not be compared, as when another version of the tool wrote "
        "them"
    )
    parser.set_defaults(run=_run_recheck)


def _run_dossier(chosen: argparse.Namespace) -> int:
    from deadfront.project.errors import ProjectErrors

    if chosen.break_points and chosen.part != "whole":
        print("deadfront: --break-points goes with the whole dossier, not with --part procedures", file=sys.stderr)
        return WRONG_FILE
    suffix = ".pdf" if chosen.part == "whole" else f".{chosen.part}.pdf"
    target: Path = chosen.output or chosen.file.with_suffix(suffix)
    if target.suffix.lower() != ".pdf":
        print(f"deadfront: {target}: expected a name that ends in .pdf", file=sys.stderr)
        return WRONG_FILE
    try:
        from deadfront.dossier import terminal
        from deadfront.dossier.files import DossierError, write_dossier
        from deadfront.project.writing import refuse_place

        report = judged(chosen, lambda project: refuse_place(target, "PDF", files_read(chosen.file, project)))
        print(terminal.summary_text(report), end="")
        found = _followed(report) if chosen.break_points else None
        written = write_dossier(report, target, chosen.part, found)
    except ProjectErrors as errors:
        return wrong(errors)
    except DossierError as error:
        print(f"deadfront: {error}", file=sys.stderr)
        return WRONG_FILE
    print(f"\nwrote {written}")
    return SHOWN


def _followed(report: Report) -> Followed:
    from deadfront.library import followed

    return followed(report, progress=progress())


def _run_recheck(chosen: argparse.Namespace) -> int:
    from deadfront.dossier.files import DossierError
    from deadfront.project.errors import ProjectErrors

    try:
        from deadfront.dossier.recheck import recheck

        result = recheck(chosen.file)
    except ProjectErrors as errors:
        return wrong(errors)
    except DossierError as error:
        print(f"deadfront: {error}", file=sys.stderr)
        return WRONG_FILE
    print(result.text, end="")
    return REFUTED if result.differences else OPEN if result.why else SHOWN
