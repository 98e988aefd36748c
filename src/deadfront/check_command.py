"""Command line: `check`. Options and a file come in; claims as text or JSON, and an exit status, go out."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from deadfront.command_parts import SHOWN, WRONG_FILE, effort_options, exit_status, json_text, judged, progress, wrong

if TYPE_CHECKING:
    from deadfront.claims.report import Report


def add_check(parser: argparse.ArgumentParser) -> None:
    """Options of `check`."""
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
    effort_options(parser)
    parser.set_defaults(run=_run)


def _run(chosen: argparse.Namespace) -> int:
    if chosen.claim:
        chosen.claim = chosen.claim.strip().upper()
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
    if chosen.picture and chosen.picture.suffix != ".svg":
        return f"{chosen.picture}: expected a name that ends in .svg"
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
        from deadfront.project.writing import refuse_place

        if chosen.picture:
            refuse_place(chosen.picture, "SVG picture", [chosen.file])
        answer = answered(chosen, progress())
        print(json_text(answer.plain()) if chosen.json else answer.text(), end="")
        if chosen.picture:
            chosen.picture.write_text(answer.picture().svg, encoding="utf-8")
            print(f"\nwrote {chosen.picture}", file=sys.stderr if chosen.json else sys.stdout)
    except ProjectErrors as errors:
        return wrong(errors)
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
        report = judged(chosen)
    except ProjectErrors as errors:
        return wrong(errors)
    if chosen.claim and chosen.claim not in {claim.id for claim in report.claims}:
        print(f"deadfront: {_no_such(chosen.claim, [claim.id for claim in report.claims])}", file=sys.stderr)
        return WRONG_FILE
    print(_rendered(chosen, report), end="")
    return exit_status(claim.verdict for claim in report.claims)


def _no_such(name: str, known: list[str]) -> str:
    """That there is no such claim, which one may be meant, and which there are."""
    import difflib

    near = difflib.get_close_matches(name, known, n=1, cutoff=0.6)
    meant = f". Did you mean {near[0]}? The" if near else "; the"
    return f"no claim {name}{meant} claims are {', '.join(known)}"


def _rendered(chosen: argparse.Namespace, report: Report) -> str:
    if chosen.json:
        from deadfront.claims.report import to_json

        return json_text(to_json(report))
    from deadfront.dossier import terminal

    return terminal.claim_text(report, chosen.claim) if chosen.claim else terminal.summary_text(report)


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
