"""Command line: words of a shell come in, text, files and an exit status go out; everything heavy is imported late."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Mapping, Sequence
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from deadfront.claims.breaking import Followed
    from deadfront.claims.report import Progress, Report

SHOWN, REFUTED, WRONG_FILE, OPEN = 0, 1, 2, 3
"""Exit status: all shown or not applicable; something refuted; the file is wrong; nothing refuted, something open."""


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


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="deadfront",
        description="Show, claim by claim, that one compact liquid-filled MV/LV substation is safe at its site.",
        epilog=(
            "exit status: 0 all claims shown or not applicable, 1 something refuted, "
            "2 the file is wrong, 3 something open"
        ),
    )
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")
    _new(commands.add_parser("new", help="write a commented starter file"))
    _schema(commands.add_parser("schema", help="print the JSON Schema of the project file, for editors"))
    _check(commands.add_parser("check", help="check a unit and print its claims"))
    _dossier(commands.add_parser("dossier", help="check a unit and write its dossier as PDF"))
    _recheck(commands.add_parser("recheck", help="recompute a dossier from the files inside it and compare"))
    _choose(commands.add_parser("choose", help="try every pair of fuses of a catalogue, and rank those that are shown"))
    _curve(commands.add_parser("curve", help="say what is wrong with the curve file of a fuse or breaker"))
    _picture(commands.add_parser("picture", help="draw what clears, and when, on log-log paper, as SVG or PNG"))
    _access(commands.add_parser("access", help="prove what hands can reach: doors, keys, switches, earths"))
    return parser


def _new(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", type=Path, metavar="FILE", help="file to write; never overwrites")
    parser.add_argument("--practice", choices=["north-american", "iec"], default="north-american")
    parser.set_defaults(run=_run_new)


def _schema(parser: argparse.ArgumentParser) -> None:
    parser.set_defaults(run=_run_schema)


def _check(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", type=Path, metavar="FILE", help="project file")
    parser.add_argument("--claim", metavar="ID", help="show one claim with its whole arithmetic, for example AE-01")
    parser.add_argument("--json", action="store_true", help="print one JSON object; also of break points or a map")
    parser.add_argument("--watch", action="store_true", help="check again whenever the file or its curves are saved")
    parser.add_argument(
        "--break-points",
        action="store_true",
        help="how far each range may move before a verdict flips, proved; of all claims, or of the one of --claim",
    )
    parser.add_argument(
        "--map",
        metavar="X,Y",
        help="where the claim of --claim holds over two ranges, for example supply.fault_current,supply.x_over_r",
    )
    parser.add_argument(
        "--picture", type=Path, metavar="SVG", help="also write the break points or the map as a picture"
    )
    _effort_options(parser)
    parser.set_defaults(run=_run_check)


def _effort_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--fresh",
        action="store_true",
        help="judge anew, also if the same files were checked before with this tool",
    )
    parser.add_argument(
        "--budget",
        type=_whole,
        metavar="BOXES",
        help="boxes that may be bounded for one question before it is left open",
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


def _dossier(parser: argparse.ArgumentParser) -> None:
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
    _effort_options(parser)
    parser.set_defaults(run=_run_dossier)


def _recheck(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", type=Path, metavar="PDF", help="dossier")
    parser.set_defaults(run=_run_recheck)


def _access(parser: argparse.ArgumentParser) -> None:
    from deadfront.access_command import add_access

    add_access(parser)


def _choose(parser: argparse.ArgumentParser) -> None:
    from deadfront.choose_command import add_choose

    add_choose(parser)


def _curve(parser: argparse.ArgumentParser) -> None:
    from deadfront.curve_command import add_curve

    add_curve(parser)


def _picture(parser: argparse.ArgumentParser) -> None:
    from deadfront.picture_command import add_picture

    add_picture(parser)


def _run_new(chosen: argparse.Namespace) -> int:
    from deadfront.project.errors import ProjectErrors
    from deadfront.project.starters import new

    try:
        written = new(chosen.file, chosen.practice)
    except ProjectErrors as errors:
        return _wrong(errors)
    for path in written:
        print(f"wrote {path}")
    print(f"next: edit it, then `deadfront check {chosen.file}`")
    return SHOWN


def _run_schema(_chosen: argparse.Namespace) -> int:
    import json

    from deadfront.project.schema import json_schema

    print(json.dumps(json_schema(), indent=2, ensure_ascii=False))
    return SHOWN


def _run_check(chosen: argparse.Namespace) -> int:
    clash = _clash(chosen)
    if clash:
        print(f"deadfront: {clash}", file=sys.stderr)
        return WRONG_FILE
    if chosen.break_points or chosen.map:
        return _run_moves(chosen)
    if chosen.watch:
        return _watch(chosen)
    return _check_once(chosen)


def _clash(chosen: argparse.Namespace) -> str:
    """What is wrong with a combination of options; empty if nothing."""
    asked = chosen.break_points or chosen.map
    if chosen.break_points and chosen.map:
        return "--break-points and --map are two questions: ask one at a time"
    if asked and chosen.watch:
        return "--watch goes with a plain check, not with --break-points or --map"
    if chosen.json and chosen.watch:
        return "--json prints one object, --watch prints again and again: ask for one of them"
    if chosen.json and chosen.claim and not asked:
        return "--json of a plain check holds every claim; --claim goes with it only for --break-points or --map"
    if chosen.picture and not asked:
        return "--picture goes with --break-points or --map"
    if chosen.map and not chosen.claim:
        return "--map needs --claim: which claim to map"
    if chosen.map and len(chosen.map.split(",")) != 2:
        return f"--map: expected two ranges as X,Y, got {chosen.map!r}"
    return ""


def _run_moves(chosen: argparse.Namespace) -> int:
    """Break points, or a map, as text or one JSON object and, if asked for, as a picture."""
    from deadfront.project.errors import ProjectErrors, unwritable

    try:
        from deadfront.moves_command import answered

        answer = answered(chosen, _progress())
        print(_json_text(answer.plain()) if chosen.json else answer.text(), end="")
        if chosen.picture:
            chosen.picture.write_text(answer.picture().svg, encoding="utf-8")
            print(f"\nwrote {chosen.picture}", file=sys.stderr if chosen.json else sys.stdout)
    except ProjectErrors as errors:
        return _wrong(errors)
    except ValueError as error:
        print(f"deadfront: {error}", file=sys.stderr)
        return WRONG_FILE
    except OSError as error:
        print(f"deadfront: {unwritable(error)}", file=sys.stderr)
        return WRONG_FILE
    return exit_status(answer.verdicts)


def _check_once(chosen: argparse.Namespace) -> int:
    from deadfront.project.errors import ProjectErrors

    try:
        report = _report(chosen)
    except ProjectErrors as errors:
        return _wrong(errors)
    if chosen.claim and chosen.claim not in {claim.id for claim in report.claims}:
        known = ", ".join(claim.id for claim in report.claims)
        print(f"deadfront: no claim {chosen.claim}; the claims are {known}", file=sys.stderr)
        return WRONG_FILE
    print(_rendered(chosen, report), end="")
    return exit_status(claim.verdict for claim in report.claims)


def _report(chosen: argparse.Namespace) -> Report:
    """The report of a file, recalled where the same was checked before, and then said so on standard error."""
    from deadfront.claims.proving import with_effort
    from deadfront.project.reading import load
    from deadfront.recalling import RECALLED, checked

    effort = with_effort(chosen.budget, chosen.tolerance)
    found = checked(load(chosen.file), effort, _progress(), fresh=chosen.fresh)
    if found.recalled:
        print(f"deadfront: {RECALLED}", file=sys.stderr)
    return found.report


def _rendered(chosen: argparse.Namespace, report: Report) -> str:
    if chosen.json:
        from deadfront.claims.report import to_json

        return _json_text(to_json(report))
    from deadfront.dossier import terminal

    return terminal.claim_text(report, chosen.claim) if chosen.claim else terminal.summary_text(report)


def _json_text(plain: Mapping[str, Any]) -> str:
    import json

    return json.dumps(plain, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def exit_status(verdicts: Iterable[str]) -> int:
    """Exit status for a set of verdicts."""
    found = set(verdicts)
    if "refuted" in found:
        return REFUTED
    return OPEN if "open" in found else SHOWN


def _watch(chosen: argparse.Namespace) -> int:
    """Check, then check again whenever something in the file's folder is saved; ends with Ctrl-C."""
    import time

    status, seen = SHOWN, None
    try:
        while True:
            now = _fingerprint(chosen.file)
            if now != seen:
                seen = now
                print(f"--- {time.strftime('%H:%M:%S')} ---")
                status = _check_once(chosen)
                sys.stdout.flush()
            time.sleep(0.3)
    except KeyboardInterrupt:
        return status


def _fingerprint(file: Path) -> tuple[tuple[str, int, int], ...]:
    """Names, sizes and times of the project file and of the CSV files under its folder."""
    found = []
    for path in [file, *sorted(file.parent.rglob("*.csv"))]:
        try:
            state = path.stat()
        except OSError:
            continue  # saved by an editor that replaces the file: the next look finds it
        found.append((str(path), state.st_size, state.st_mtime_ns))
    return tuple(found)


def _run_dossier(chosen: argparse.Namespace) -> int:
    from deadfront.project.errors import ProjectErrors

    if chosen.break_points and chosen.part != "whole":
        print("deadfront: --break-points goes with the whole dossier, not with --part procedures", file=sys.stderr)
        return WRONG_FILE
    try:
        from deadfront.dossier import terminal
        from deadfront.dossier.files import DossierError, write_dossier

        report = _report(chosen)
        print(terminal.summary_text(report), end="")
        suffix = ".pdf" if chosen.part == "whole" else f".{chosen.part}.pdf"
        found = _followed(report) if chosen.break_points else None
        written = write_dossier(report, chosen.output or chosen.file.with_suffix(suffix), chosen.part, found)
    except ProjectErrors as errors:
        return _wrong(errors)
    except DossierError as error:
        print(f"deadfront: {error}", file=sys.stderr)
        return WRONG_FILE
    print(f"\nwrote {written}")
    return SHOWN


def _followed(report: Report) -> Followed:
    from deadfront.library import followed

    return followed(report, progress=_progress())


def _run_recheck(chosen: argparse.Namespace) -> int:
    from deadfront.dossier.files import DossierError
    from deadfront.project.errors import ProjectErrors

    try:
        from deadfront.dossier.recheck import recheck

        result = recheck(chosen.file)
    except ProjectErrors as errors:
        return _wrong(errors)
    except DossierError as error:
        print(f"deadfront: {error}", file=sys.stderr)
        return WRONG_FILE
    print(result.text, end="")
    return REFUTED if result.differences else SHOWN


def _wrong(errors: Exception) -> int:
    print(errors, file=sys.stderr)
    return WRONG_FILE


def _progress() -> Progress | None:
    """A one-line progress display on a terminal's standard error; nothing elsewhere."""
    if not sys.stderr.isatty():
        return None

    def show(done: int, whole: int, what: str) -> None:
        text = f"checking {what} ({done} of {whole})" if done < whole else ""
        print(f"\r{text:<40}" if text else f"\r{'':<40}\r", end="", file=sys.stderr, flush=True)

    return show
