"""Command line: the command `choose`. A project file and a catalogue come in; ranked pairs, or a new file, go out."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from deadfront.claims.choice import Choice
    from deadfront.claims.choosing import Wish
    from deadfront.project.catalogue import Catalogue
    from deadfront.project.fuse_writing import Pair
    from deadfront.project.project import Project

_FOUND, _NONE, _WRONG, _OPEN = 0, 1, 2, 3
"""Exit status: a pair is proved; no pair is; a file is wrong; the file lacks what every pair needs."""

_OWN = "catalogue"
"""Folder beside the project file in which its own catalogue is looked for."""

_BEST = "best"


def add_choose(parser: argparse.ArgumentParser) -> None:
    """Give a sub-parser the options of `choose`."""
    parser.add_argument("file", type=Path, metavar="FILE", help="project file")
    parser.add_argument("what", choices=["fuses"], help="what to choose: the draw-out link and the limiter, as a pair")
    parser.add_argument(
        "--catalogue",
        type=Path,
        metavar="FOLDER",
        help=f"folder with links.csv and limiters.csv; without it `{_OWN}` beside the file, or else invented data",
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument("--rank", choices=["margin", "stock"], default="margin", help="what goes first in the ranking")
    parser.add_argument(
        "--stock",
        action="append",
        metavar="NAME",
        help="a fuse in stock, by name, or a project file with those of another unit; may be given again",
    )
    parser.add_argument(
        "--prove", type=_number, default=3, metavar="N", help="pairs to prove over all ranges, 3 if not given"
    )
    parser.add_argument(
        "--all", action="store_true", help="prove and print every pair that is left, print every rejected one"
    )
    parser.add_argument(
        "--write", metavar="LINK,LIMITER", help="write this pair into the file; `best` for the first one"
    )
    parser.add_argument("--overwrite", action="store_true", help="with --write: replace curve files of another content")
    parser.epilog = (
        "exit status: 0 a pair is proved, 1 no pair is, 2 a file is wrong, 3 the file lacks what every pair needs"
    )
    parser.set_defaults(run=_run)


def _number(text: str) -> int:
    if not text.isdecimal():
        raise argparse.ArgumentTypeError(f"expected a whole number from 0 on, got {text!r}")
    return int(text)


def _run(chosen: argparse.Namespace) -> int:
    from deadfront.project.errors import ProjectErrors, unwritable

    try:
        return _chosen(chosen)
    except ProjectErrors as errors:
        print(errors, file=sys.stderr)
    except ValueError as error:
        print(f"deadfront: {error}", file=sys.stderr)
    except OSError as error:
        print(f"deadfront: {unwritable(error)}", file=sys.stderr)
    return _WRONG


def _chosen(chosen: argparse.Namespace) -> int:
    from deadfront.claims.choosing import choose
    from deadfront.project.reading import load

    project, catalogue = load(chosen.file), _catalogue(chosen)
    asked = _asked(chosen.write, catalogue)
    choice = choose(project, catalogue, _wish(chosen, project, catalogue), _progress)
    _print(chosen, project, choice)
    proved = [one for one in choice.candidates if one.proved]
    if chosen.write:
        if asked is None and not proved:
            print("deadfront: nothing written: no pair is proved", file=sys.stderr)
            return _OPEN if choice.missing else _NONE
        _write(chosen, asked or {"bayonet": proved[0].link, "limiter": proved[0].limiter})
    return _OPEN if choice.missing else _FOUND if proved else _NONE


def _catalogue(chosen: argparse.Namespace) -> Catalogue:
    """The catalogue asked for, or the file's own, or the invented one, which says so wherever it is printed."""
    from deadfront.project.catalogue import demonstration_catalogue, read_catalogue

    own = chosen.file.parent / _OWN
    if chosen.catalogue is not None or own.is_dir():
        return read_catalogue(chosen.catalogue or own)
    return demonstration_catalogue()


def _wish(chosen: argparse.Namespace, project: Project, catalogue: Catalogue) -> Wish:
    from deadfront.claims.choosing import Wish, in_stock

    here = in_stock(project, catalogue).union(*(_stocked(name, catalogue) for name in chosen.stock or ()))
    return Wish(None if chosen.all else chosen.prove, here, chosen.rank == "stock")


def _stocked(name: str, catalogue: Catalogue) -> frozenset[str]:
    """A fuse by its name, or those of another unit by its file."""
    from deadfront.claims.choosing import in_stock
    from deadfront.operation.refusing import refuse_broken
    from deadfront.project.reading import load
    from deadfront.station.station import build

    if name.endswith((".yaml", ".yml")):
        other = load(name)
        refuse_broken(other, build(other.unit))
        return in_stock(other, catalogue)
    if name not in [fuse.name for fuse in (*catalogue.links, *catalogue.limiters)]:
        raise ValueError(f"--stock: expected a project file, or a fuse of {catalogue.name}, got `{name}`")
    return frozenset([name])


def _asked(text: str | None, catalogue: Catalogue) -> Pair | None:
    """The pair that is to be written by name; None for none, or the best."""
    if text is None or text == _BEST:
        return None
    first, _, second = text.partition(",")
    links = {fuse.name: fuse for fuse in catalogue.links}
    limiters = {fuse.name: fuse for fuse in catalogue.limiters}
    for name, fuses, what in ((first, links, "link"), (second, limiters, "limiter")):
        if name.strip() not in fuses:
            raise ValueError(f"--write: expected `{_BEST}` or a {what} of {catalogue.name}, got `{name.strip()}`")
    return {"bayonet": links[first.strip()], "limiter": limiters[second.strip()]}


def _print(chosen: argparse.Namespace, project: Project, choice: Choice) -> None:
    if chosen.json:
        import json

        from deadfront.claims.choice_json import choice_json

        print(json.dumps(choice_json(project, choice), indent=1, ensure_ascii=False, allow_nan=False))
        return
    from deadfront.dossier.choice_text import choice_text

    print(choice_text(project.unit.title or chosen.file.name, choice, everything=chosen.all), end="")


def _write(chosen: argparse.Namespace, pair: Pair) -> None:
    from deadfront.project.fuse_writing import write_pair

    written = write_pair(chosen.file, pair, overwrite=chosen.overwrite)
    out = sys.stderr if chosen.json else sys.stdout
    print(f"\n{pair['bayonet'].name} and {pair['limiter'].name} now stand in the file", file=out)
    for path in written:
        print(f"wrote {path}", file=out)
    print(f"next: `deadfront check {chosen.file}`", file=out)


def _progress(text: str) -> None:
    """One line on a terminal's standard error; nothing elsewhere."""
    if sys.stderr.isatty():
        print(f"\r{text:<60}", end="", file=sys.stderr, flush=True)
