"""Command line: the command `curve`. Curve files come in; what is wrong with them, and a picture, go out."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from deadfront.project.curve_checking import CheckedCurve
    from deadfront.project.writing import Kind

_FIT, _DOUBTFUL, _WRONG = 0, 1, 2
"""Exit status: nothing to say; usable, but look at it; unfit for a project."""

_PICTURES = (".svg", ".png")


def add_curve(parser: argparse.ArgumentParser) -> None:
    """Give a sub-parser the options of `curve`."""
    parser.add_argument("files", type=Path, nargs="+", metavar="CSV", help="curve file")
    parser.add_argument("--picture", type=Path, metavar="OUT", help="also draw the curves, as OUT.svg or OUT.png")
    parser.epilog = "exit status: 0 nothing to say, 1 usable but doubtful, 2 unfit for a project"
    parser.set_defaults(run=_run)


def _run(chosen: argparse.Namespace) -> int:
    from deadfront.project.curve_checking import check_curve
    from deadfront.project.writing import place_problem

    if chosen.picture is not None and chosen.picture.suffix not in _PICTURES:
        print(f"deadfront: {chosen.picture}: expected a name that ends in .svg or .png", file=sys.stderr)
        return _WRONG
    if chosen.picture is not None:
        kind: Kind = "PNG picture" if chosen.picture.suffix == ".png" else "SVG picture"
        problem = place_problem(chosen.picture, kind, chosen.files)
        if problem is not None:
            print(problem, file=sys.stderr)
            return _WRONG
    checked = [check_curve(path) for path in chosen.files]
    print("\n\n".join(curve_text(one) for one in checked))
    worst = max(status(one) for one in checked)
    return _draw(checked, chosen.picture, worst) if chosen.picture is not None else worst


def _draw(checked: Sequence[CheckedCurve], out: Path, worst: int) -> int:
    from deadfront.dossier.curve_picture import curve_picture
    from deadfront.dossier.raster import png
    from deadfront.project.errors import unwritable

    try:
        picture = curve_picture(checked)
        out.write_bytes(png(picture) if out.suffix == ".png" else picture.svg.encode())
    except ValueError as error:
        print(f"\ndeadfront: {error}", file=sys.stderr)
        return _WRONG
    except OSError as error:
        print(f"\ndeadfront: {unwritable(error)}", file=sys.stderr)
        return _WRONG
    print(f"\nwrote {out}")
    return worst


def status(checked: CheckedCurve) -> int:
    """Exit status for one file."""
    return _WRONG if checked.wrong else _DOUBTFUL if checked.doubtful else _FIT


def curve_text(checked: CheckedCurve) -> str:
    """All that is to be said about a file: what it holds, what is wrong, what is doubtful."""
    said = {_FIT: "nothing to say against it", _DOUBTFUL: "usable, but doubtful", _WRONG: "unfit for a project"}
    lines = [f"{checked.name}: {said[status(checked)]}", *_contents(checked)]
    for title, problems in (("wrong", checked.wrong), ("doubtful", checked.doubtful)):
        if problems:
            lines += ["", title, *(f"\n{problem}" for problem in problems)]
    return "\n".join(lines)


def _contents(checked: CheckedCurve) -> list[str]:
    from deadfront.project.curve_checking import stated_text

    lines = ["  INVENTED demonstration data, not for construction"] if checked.invented else []
    curve = checked.curve
    if curve is not None:
        lines.append(f"  {len(curve.current)} points, {curve.current[0]:g} A to {curve.current[-1]:g} A")
        lines += [_times("melting", curve.minimum_melting), _times("clearing", curve.total_clearing)]
    stated = stated_text(checked.stated)
    return [*lines, f"  states {stated}"] if stated else lines


def _times(what: str, times: Sequence[float] | None) -> str:
    return f"  no {what} times" if times is None else f"  {what} {times[0]:g} s to {times[-1]:g} s"
