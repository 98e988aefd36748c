"""Command line: words of a shell come in, text, files and an exit status go out; everything heavy is imported late."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from io import TextIOWrapper
from pathlib import Path
from typing import Any

from deadfront.access_command import add_access
from deadfront.check_command import add_check
from deadfront.choose_command import add_choose
from deadfront.command_parts import SHOWN, wrong
from deadfront.curve_command import add_curve
from deadfront.dossier_command import add_dossier, add_recheck
from deadfront.picture_command import add_picture


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status."""
    _forgive_narrow_terminals()
    parser = _parser()
    chosen = parser.parse_args(arguments)
    try:
        return int(chosen.run(chosen))
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        sys.stderr.close()
        return 0


def _forgive_narrow_terminals() -> None:
    """Write out a character that the terminal's encoding lacks instead of stopping in the middle of a result."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


class _Version(argparse.Action):
    """The version, from the package as it is installed; looked up only where it is asked for."""

    def __init__(self, option_strings: Sequence[str], dest: str, **others: Any) -> None:
        super().__init__(option_strings, dest, nargs=0, default=argparse.SUPPRESS, help=others.get("help"))

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from importlib.metadata import version

        print(f"deadfront {version('deadfront')}")
        parser.exit()


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="deadfront",
        description="Show, claim by claim, that one compact liquid-filled MV/LV substation is safe at its site.",
        epilog=(
            "exit status of check: 0 all claims shown or not applicable, 1 something refuted, "
            "2 the file is wrong, 3 something open; of the others: `deadfront COMMAND --help`"
        ),
    )
    parser.add_argument("--version", action=_Version, help="print the version of the tool and end")
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")
    _new(commands.add_parser("new", help="write a commented starter file"))
    _schema(commands.add_parser("schema", help="print the JSON Schema of the project file, for editors"))
    add_check(commands.add_parser("check", help="check a unit and print its claims"))
    add_dossier(commands.add_parser("dossier", help="check a unit and write its dossier as PDF"))
    add_recheck(
        commands.add_parser("recheck", help="compute and set a dossier again from the files in it, and compare")
    )
    add_choose(
        commands.add_parser("choose", help="try every pair of fuses of a catalogue, and rank those that are shown")
    )
    add_curve(commands.add_parser("curve", help="say what is wrong with the curve file of a fuse or breaker"))
    add_picture(commands.add_parser("picture", help="draw what clears, and when, on log-log paper, as SVG or PNG"))
    add_access(commands.add_parser("access", help="prove what hands can reach: doors, keys, switches, earths"))
    return parser


def _new(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", type=Path, metavar="FILE", help="file to write; never overwrites")
    parser.add_argument("--practice", choices=["north-american", "iec"], default="north-american")
    parser.epilog = "exit status: 0 written, 2 something stands there already, or the folder cannot be written to"
    parser.set_defaults(run=_run_new)


def _schema(parser: argparse.ArgumentParser) -> None:
    parser.set_defaults(run=_run_schema)


def _run_new(chosen: argparse.Namespace) -> int:
    from deadfront.project.errors import ProjectErrors
    from deadfront.project.starters import new

    try:
        written = new(chosen.file, chosen.practice)
    except ProjectErrors as errors:
        return wrong(errors)
    for path in written:
        print(f"wrote {path}")
    print(f"next: edit it, then `deadfront check {chosen.file}`")
    return SHOWN


def _run_schema(_chosen: argparse.Namespace) -> int:
    import json

    from deadfront.project.schema import json_schema

    print(json.dumps(json_schema(), indent=2, ensure_ascii=False))
    return SHOWN
