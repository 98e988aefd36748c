"""Command line: the command `picture`. A project file comes in, a sheet of log-log paper and an exit status go out."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from deadfront.claims.pictures import What
    from deadfront.study.drawing import Sheet

_DRAWN, _WRONG_FILE, _LACKING = 0, 2, 3
"""Exit status: the picture is written; the file or an option is wrong; the file lacks what the picture shows."""

_WHATS = ("time-current", "earth-fault-lv", "earth-fault-mv", "let-through")
"""What can be drawn; repeated here so that `--help` loads nothing heavy, and held against the claims by a test."""


def add_picture(parser: argparse.ArgumentParser) -> None:
    """Give a sub-parser the options of `picture`."""
    parser.add_argument("file", type=Path, metavar="FILE", help="project file")
    parser.add_argument(
        "what",
        choices=_WHATS,
        help="time-current: the phase currents from the supply to a feeder; earth-fault-lv, earth-fault-mv: earth "
        "faults on either side of the transformer; let-through: peak current behind the limiter",
    )
    parser.add_argument(
        "-o",
        "--output",
        type=Path,
        metavar="OUT",
        required=True,
        help="picture to write; its name ends in .svg or .png",
    )
    parser.add_argument(
        "--feeder",
        action="append",
        default=[],
        metavar="NAME",
        help="feeder to draw, may be given again; the one of the largest rating if none is named",
    )
    parser.epilog = "exit status: 0 written, 2 the file or an option is wrong, 3 the file lacks what the picture shows"
    parser.set_defaults(run=_run)


def _run(chosen: argparse.Namespace) -> int:
    from deadfront.project.errors import ProjectErrors, unwritable
    from deadfront.project.writing import refuse_place
    from deadfront.study.inputs import MissingEntryError

    if chosen.output.suffix not in (".svg", ".png"):
        return _refused(f"{chosen.output}: expected a name that ends in .svg or .png")
    try:
        refuse_place(chosen.output, "PNG picture" if chosen.output.suffix == ".png" else "SVG picture", [chosen.file])
        sheet = _sheet(chosen.file, chosen.what, tuple(chosen.feeder))
        if not sheet.characteristics:
            reasons = [note for note in sheet.notes if note.startswith("Not drawn")]
            print("\n".join([f"deadfront: {chosen.file}: nothing to draw", *reasons]), file=sys.stderr)
            return _LACKING
        _write(sheet, chosen.output)
    except ProjectErrors as errors:
        print(errors, file=sys.stderr)
        return _WRONG_FILE
    except MissingEntryError as missing:
        return _lacking(chosen.file, missing.path)
    except ValueError as error:
        return _refused(f"{chosen.file}: {error}")
    except OSError as error:
        return _refused(unwritable(error))
    print(f"wrote {chosen.output}")
    for note in sheet.notes:
        print(note)
    return _DRAWN


def _sheet(file: Path, what: What, feeders: tuple[str, ...]) -> Sheet:
    from deadfront.claims.pictures import sheet_of
    from deadfront.claims.report import subject_of
    from deadfront.project.reading import load

    return sheet_of(subject_of(load(file)), what, feeders)


def _write(sheet: Sheet, output: Path) -> None:
    from deadfront.dossier.log_paper import log_paper

    picture = log_paper(sheet)
    if output.suffix == ".svg":
        output.write_text(picture.svg, encoding="utf-8")
    else:
        from deadfront.dossier.raster import png

        output.write_bytes(png(picture))


def _lacking(file: Path, path: str) -> int:
    """Say which entry the whole picture rests on, with an example."""
    from deadfront.project.describing import describe

    entry = describe(path)
    print(f"deadfront: {file}: nothing to draw without {path}", file=sys.stderr)
    print(f"{entry.what}\nfor example `{entry.example}`", file=sys.stderr)
    return _LACKING


def _refused(words: str) -> int:
    print(f"deadfront: {words}", file=sys.stderr)
    return _WRONG_FILE
