"""Command line: the command `access`. A project or machine file comes in, text or JSON and an exit status go out."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from deadfront.dossier.state_picture import Practice
    from deadfront.operation.machine import Machine
    from deadfront.project.model import Unit

_SAFE, _DANGEROUS, _WRONG_FILE = 0, 1, 2
"""Exit status: hands reach no hazard; they reach one; the file is wrong."""


def add_access(parser: argparse.ArgumentParser) -> None:
    """Give a sub-parser the options of `access`."""
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("file", type=Path, nargs="?", metavar="FILE", help="project file")
    what.add_argument("--machine", type=Path, metavar="JSON", help="machine file, instead of a project file")
    parser.add_argument(
        "--by-phase",
        action="append",
        metavar="DEVICE",
        help="draw three phases, and move this device one phase at a time; may be given again",
    )
    parser.add_argument("--sheets", action="store_true", help="print the crew's sheets of the tasks, and nothing else")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument(
        "--failures", choices=["single", "double"], help="also break each barrier, or each pair of them"
    )
    parser.add_argument(
        "--budget",
        type=_states,
        metavar="STATES",
        help="begin no further search of failures after so many states; what was left out is told",
    )
    parser.add_argument(
        "--export", type=Path, metavar="OUT", help="write the machine as OUT.json or, for a model checker, OUT.pml"
    )
    parser.add_argument(
        "--picture",
        nargs=2,
        metavar=("WHAT", "SVG"),
        help="write a picture, and nothing else: `keys` or `steps` of a task, the ways to `hazards`, or `rests`",
    )
    parser.add_argument("--task", metavar="NAME", help="the task of the picture; the first one if not given")
    parser.epilog = "exit status: 0 no hazard within reach of hands, 1 a hazard within reach, 2 the file is wrong"
    parser.set_defaults(run=_run)


def _states(text: str) -> int:
    """A number of states, above zero."""
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"expected a whole number of states from 1 on, got {text!r}")
    return int(text)


def _run(chosen: argparse.Namespace) -> int:
    from deadfront.operation.errors import MachineTooLarge
    from deadfront.operation.station_machine import NothingToExamine
    from deadfront.project.errors import ProjectErrors, unwritable

    clash = _clash(chosen)
    if clash:
        print(f"deadfront: {clash}", file=sys.stderr)
        return _WRONG_FILE
    try:
        _refuse_places(chosen)
        machine, supplied, practice, unit = _machine(chosen)
        if chosen.by_phase:
            machine = _three_phases(machine, chosen.by_phase)
        if chosen.export is not None:
            return _export(machine, chosen.export)
        if chosen.picture is not None:
            return _picture(machine, practice, chosen)
        if chosen.sheets:
            return _sheets(machine, unit)
        return _examined(machine, supplied, chosen)
    except ProjectErrors as errors:
        print(errors, file=sys.stderr)
    except (MachineTooLarge, NothingToExamine, _UnknownDeviceError) as error:
        print(f"deadfront: {chosen.machine or chosen.file}: {error}", file=sys.stderr)
    except OSError as error:
        print(f"deadfront: {unwritable(error)}", file=sys.stderr)
    return _WRONG_FILE


def _clash(chosen: argparse.Namespace) -> str:
    """What is wrong with a combination of options; empty if nothing."""
    if chosen.task is not None and chosen.picture is None:
        return "--task goes with --picture: it names the task that is drawn"
    if chosen.picture is not None and Path(chosen.picture[1]).suffix != ".svg":
        return f"{chosen.picture[1]}: expected a name that ends in .svg"
    return ""


def _refuse_places(chosen: argparse.Namespace) -> None:
    """Refuse to write where something else stands; before a machine is explored."""
    from deadfront.project.writing import refuse_place

    read = [chosen.machine or chosen.file]
    if chosen.picture is not None:
        refuse_place(Path(chosen.picture[1]), "SVG picture", read)
    if chosen.export is not None and chosen.export.suffix == ".json":
        refuse_place(chosen.export, "machine file", read)
    if chosen.export is not None and chosen.export.suffix == ".pml":
        refuse_place(chosen.export, "Promela model", read)


def _machine(chosen: argparse.Namespace) -> tuple[Machine, dict[str, str], Practice, Unit | None]:
    """The machine to be examined, what the tool supplied for it, the practice of its symbols, and its unit if any."""
    if chosen.machine is not None:
        from deadfront.operation.machine_file import load_machine

        return load_machine(chosen.machine), {}, "iec", None
    from deadfront.operation.refusing import sound_machine
    from deadfront.project.reading import load
    from deadfront.station.station import build

    project = load(chosen.file)
    built = sound_machine(project, build(project.unit))
    return built.machine, built.supplied, project.unit.practice, project.unit


def _three_phases(machine: Machine, single: list[str]) -> Machine:
    from deadfront.operation.phases import by_phase

    try:
        return by_phase(machine, single)
    except ValueError as error:
        raise _UnknownDeviceError(f"--by-phase: {str(error).removeprefix('single: ')}") from None


class _UnknownDeviceError(ValueError):
    """A device that cannot be moved one phase at a time."""


def _sheets(machine: Machine, unit: Unit | None) -> int:
    from deadfront.operation.approach import distance_words, unit_distances
    from deadfront.operation.handling import handling
    from deadfront.operation.procedures import procedure
    from deadfront.operation.sheet_text import sheet_text
    from deadfront.operation.sheets import sheet

    distances = distance_words("iec", None, None) if unit is None else unit_distances(unit)
    given = {} if unit is None else handling(unit)
    status = _SAFE
    for goal in machine.goals:
        found = procedure(machine, goal)
        if found is None:
            print(f"{goal.id}: no safe way leads there")
            status = _DANGEROUS
        else:
            print(sheet_text(sheet(machine, found, distances, given)))
    return status


def _picture(machine: Machine, practice: Practice, chosen: argparse.Namespace) -> int:
    from deadfront.dossier.access_pages import Unit
    from deadfront.dossier.access_picture import WANTED, NothingToDraw, access_picture

    words, path = chosen.picture
    wanted = next((name for name in WANTED if name == words), None)
    if wanted is None:
        expected = "; ".join(f"{name}, {meaning}" for name, meaning in WANTED.items())
        print(f"deadfront: --picture {words}: expected one of {expected}", file=sys.stderr)
        return _WRONG_FILE
    try:
        drawn = access_picture(Unit(machine, practice, ""), wanted, chosen.task)
    except NothingToDraw as nothing:
        print(f"deadfront: --picture {wanted}: {nothing}", file=sys.stderr)
        return _WRONG_FILE
    Path(path).write_text(drawn.svg, encoding="utf-8")
    print(f"wrote {path}")
    return _SAFE


def _export(machine: Machine, path: Path) -> int:
    import json

    from deadfront.operation.machine_file import write_machine
    from deadfront.operation.promela import promela

    if path.suffix == ".json":
        text = json.dumps(write_machine(machine), indent=1, ensure_ascii=False) + "\n"
    elif path.suffix == ".pml":
        text = promela(machine)
    else:
        print(f"deadfront: {path}: expected a name that ends in .json or .pml", file=sys.stderr)
        return _WRONG_FILE
    path.write_text(text, encoding="utf-8")
    print(f"wrote {path}")
    return _SAFE


def _examined(machine: Machine, supplied: dict[str, str], chosen: argparse.Namespace) -> int:
    if chosen.json:
        import json

        from deadfront.operation.answers import answers

        found = answers(machine, chosen.failures, _progress(), chosen.budget) | {"supplied": supplied}
        print(json.dumps(found, indent=1, ensure_ascii=False))
        return _DANGEROUS if found["hands"]["hazards"] else _SAFE
    from deadfront.operation.examining import examine
    from deadfront.operation.reporting import access_text

    for line in access_text(machine, chosen.failures, _progress(), chosen.budget):
        print(line)
    if supplied:
        print("\nsupplied by the tool, to be confirmed")
    for path, text in supplied.items():
        print(f"  {path}: {text}")
    return _DANGEROUS if examine(machine, "hands").sequences else _SAFE


def _progress() -> Callable[[int, int], None] | None:
    """A line on a terminal that says how many failure sets are done; nothing where output goes to a file."""
    if not sys.stderr.isatty():
        return None

    def show(done: int, total: int) -> None:
        print(f"\r{done} of {total} sets of failures", end="" if done < total else "\n", file=sys.stderr, flush=True)

    return show
