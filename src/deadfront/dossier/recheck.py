"""Dossier: a dossier checks itself. A PDF comes in; it is computed and set again; what differs goes out in words."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any

from deadfront.dossier.document import BREAKS, CHECKSUMS, RESULT, TYPES, canonical
from deadfront.dossier.errors import DossierError
from deadfront.dossier.files import Carried, carried
from deadfront.dossier.same_pages import Pages, compare_pages

if TYPE_CHECKING:
    from deadfront.claims.breaking import Followed
    from deadfront.dossier.typeset import Part
    from deadfront.intervals import Effort
    from deadfront.project.project import Project

SAME = 1e-9
"""Relative difference up to which two numbers are the same: rounding of the C library, not of the method."""
_HEADS = ("deadfront", "version", "input_sha256", "effort")
"""Fields of a result that have words of their own, or that the new one is computed with."""
_COMPARED = ("verdict", "value", "limit", "unit", "margin", "coverage", "worst_case", "sentence")


@dataclass(frozen=True, slots=True)
class Recheck:
    """What a re-check found: `differences` in words, empty when all is the same; how many claims were compared.

    breaks  whether the dossier has pages about break points, which were found again as well
    sheets  sheets that were set again and compared; none where that was not done
    why     why no sheet was compared; empty where they were
    note    what else is to be said of the sheets
    """

    differences: tuple[str, ...]
    claims: int
    project: str
    breaks: bool = False
    sheets: int = 0
    why: str = ""
    note: str = ""

    @property
    def same(self) -> bool:
        """Whether the dossier still says what its files give, its sheets included."""
        return not self.differences and not self.why

    @property
    def text(self) -> str:
        """The finding for a terminal, one line for each difference."""
        breaks = " with their break points" if self.breaks else ""
        sheets = f" and {self.sheets} sheets" if self.sheets else ""
        count = len(self.differences)
        said = f"{count} difference{'s' if count > 1 else ''}" if count else "no difference"
        lines = [f"{self.project}: computed again, {self.claims} claims{breaks}{sheets}, {said}"]
        lines += [f"  {difference}" for difference in self.differences]
        lines += [f"  sheets not compared: {self.why}"] if self.why else []
        lines += [f"  {self.note}"] if self.note else []
        return "".join(f"{line}\n" for line in lines)


@dataclass(frozen=True, slots=True)
class Computed:
    """A project computed again: its result as one object, and how its document is set.

    document  from part, break points and the object to carry along to the bytes of the PDF
    """

    result: Mapping[str, Any]
    document: Callable[[Part, Followed | None, Mapping[str, Any]], bytes]


def recheck(path: str | PathLike[str], compute: Callable[[Project], Computed] | None = None) -> Recheck:
    """Take the attached files out, compute every claim again, set every sheet again, and compare both.

    Sheets are compared where the attached files agree with what is computed, and where the dossier was written by
    this version of the tool: another one sets other sheets.

    compute  from a project to what it gives; the tool's own check and pages if not given
    raises   DossierError: the PDF is no dossier; ProjectErrors: its project file is no longer accepted
    """
    found = carried(path)
    project_name, result = _project_name(path, found), _result(path, found)
    files = {name: data for name, data in found.files.items() if name not in (project_name, RESULT, BREAKS, CHECKSUMS)}
    from deadfront.project.reading import load_bytes  # the reader of files is heavy

    project = load_bytes(project_name, found.files[project_name], files)
    computed = (compute or _check(path, result))(project)
    again = json.loads(canonical(computed.result))
    differences = [*_altered(found), *_compare_heads(result, again, found.files[project_name]), *compare(result, again)]
    followed = None
    if BREAKS in found.files:
        from deadfront.dossier.recheck_breaks import break_differences  # minutes of work: only where there are any

        moved, followed = break_differences(Path(path), found.files[BREAKS], project, _effort(path, result))
        differences += moved
    pages = _pages(
        Path(path), found, (result, again), differences, lambda part: computed.document(part, followed, result)
    )
    return Recheck(
        (*differences, *pages.differences),
        len(_by_id(again)),
        project_name,
        BREAKS in found.files,
        pages.sheets,
        "" if pages.compared else pages.note,
        pages.note if pages.compared else "",
    )


def _pages(
    path: Path,
    found: Carried,
    results: tuple[Mapping[str, Any], Mapping[str, Any]],
    differences: Sequence[str],
    document: Callable[[Part], bytes],
) -> Pages:
    """The sheets of the dossier against those that its files give, where that can be asked."""
    made_by, this = (result.get("version") for result in results)
    if made_by != this:
        words = f"the dossier was made with version {_words(made_by)} of the tool, this is {_words(this)}"
        return Pages((), words, compared=False)
    if differences:
        return Pages((), "what they are made from differs already", compared=False)
    part: Part = next((part for part, words in TYPES.items() if words == found.subject), "whole")
    return compare_pages(path, found.whole, document(part))


def compare(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[str]:
    """What differs between two results, claim by claim, in words; identifiers rising.

    Arithmetic and tables are compared within one version of the tool; another one may write them otherwise.
    """
    one_version = before.get("version") == after.get("version")
    old, new = _by_id(before), _by_id(after)
    differences = []
    for name in sorted(old.keys() | new.keys()):
        if name not in new:
            differences.append(f"{name}: in the dossier, but no longer computed")
        elif name not in old:
            differences.append(f"{name}: computed now, but not in the dossier")
        else:
            told = _compare_claims(name, old[name], new[name])
            differences += told or (_unlike(name, old[name], new[name], set(_COMPARED)) if one_version else [])
    return differences + (_unlike("result", before, after, {"claims", *_HEADS}) if one_version else [])


def _compare_claims(name: str, old: Mapping[str, Any], new: Mapping[str, Any]) -> list[str]:
    return [
        f"{name}: {field.replace('_', ' ')} was {_words(old.get(field))}, is now {_words(new.get(field))}"
        for field in _COMPARED
        if not _same(old.get(field), new.get(field))
    ]


def _unlike(name: str, old: Mapping[str, Any], new: Mapping[str, Any], told: set[str]) -> list[str]:
    """What else differs, by name alone: tables and arithmetic are long."""
    fields = sorted((old.keys() | new.keys()) - told)
    return [
        f"{name}: {field.replace('_', ' ')}: not what is computed now"
        for field in fields
        if not _same(old.get(field), new.get(field))
    ]


def _compare_heads(result: Mapping[str, Any], again: Mapping[str, Any], source: bytes) -> list[str]:
    """The form of the result, and the digest of the project file; another version alone is no difference."""
    differences = []
    if result.get("deadfront") != again.get("deadfront"):
        was, now = _words(result.get("deadfront")), _words(again.get("deadfront"))
        differences.append(f"format of the result: the dossier was made with {was}, this is {now}")
    digest = hashlib.sha256(source).hexdigest()
    if result.get("input_sha256") != digest:
        differences.append("project file: the attached file is not the one the result was computed from")
    return differences


def _altered(found: Carried) -> list[str]:
    """Attached files that are not those the list of checksums names."""
    if CHECKSUMS not in found.files:
        return ["checksums: the dossier carries no list of checksums, so its files may have been altered"]
    listed = {}
    for line in found.files[CHECKSUMS].decode("utf-8", "replace").splitlines():
        digest, _, name = line.partition("  ")
        listed[name] = digest
    differences = []
    for name in sorted((listed.keys() | found.files.keys()) - {CHECKSUMS}):
        if name not in found.files:
            differences.append(f"{name}: listed in the checksums, but not attached")
        elif name not in listed:
            differences.append(f"{name}: attached, but not listed in the checksums")
        elif hashlib.sha256(found.files[name]).hexdigest() != listed[name]:
            differences.append(f"{name}: the attached file was altered; its checksum is not the listed one")
    return differences


def _project_name(path: str | PathLike[str], found: Carried) -> str:
    if len(found.sources) != 1:
        raise DossierError(
            f"{Path(path)}: expected one attached project file (relationship Source), found {len(found.sources)}"
        )
    return found.sources[0]


def _result(path: str | PathLike[str], found: Carried) -> Mapping[str, Any]:
    if RESULT not in found.files:
        raise DossierError(f"{Path(path)}: expected an attached {RESULT}, found {', '.join(sorted(found.files))}")
    try:
        result = json.loads(found.files[RESULT])
    except (ValueError, RecursionError) as error:
        raise DossierError(f"{Path(path)}: {RESULT}: expected JSON, found damaged text ({error})") from None
    if not isinstance(result, dict) or not isinstance(result.get("claims"), list):
        raise DossierError(f"{Path(path)}: {RESULT}: expected an object with a list of claims")
    return result


def _by_id(result: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    claims = result.get("claims", ())
    return {str(claim["id"]): claim for claim in claims if isinstance(claim, dict) and "id" in claim}


def _same(old: Any, new: Any) -> bool:
    """Numbers within the tolerance, everything else equal; structures part by part."""
    if isinstance(old, bool) or isinstance(new, bool):
        return old is new
    if isinstance(old, int | float) and isinstance(new, int | float):
        return math.isclose(old, new, rel_tol=SAME, abs_tol=0.0) or old == new
    if isinstance(old, dict) and isinstance(new, dict):
        return old.keys() == new.keys() and all(_same(old[name], new[name]) for name in old)
    if isinstance(old, list) and isinstance(new, list):
        return len(old) == len(new) and all(_same(*pair) for pair in zip(old, new, strict=True))
    return bool(old == new)


def _words(value: Any) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, dict):
        return repr(value.get("words", value))
    return repr(value)


def _check(path: str | PathLike[str], result: Mapping[str, Any]) -> Callable[[Project], Computed]:
    """The tool's own check and pages, with the effort that the result says it was computed with."""
    from deadfront.claims.report import check, to_json
    from deadfront.dossier.assembly import dossier_bytes

    effort = _effort(path, result)

    def computed(project: Project) -> Computed:
        report = check(project, effort=effort)
        return Computed(to_json(report), lambda part, followed, carry: dossier_bytes(report, part, followed, carry))

    return computed


def _effort(path: str | PathLike[str], result: Mapping[str, Any]) -> Effort:
    """The effort that a result says it was computed with."""
    from deadfront.intervals import Effort

    try:
        given = result["effort"]
        return Effort(int(given["budget"]), int(given["refinement"]), float(given["tolerance"]))
    except (KeyError, TypeError, ValueError, OverflowError):
        raise DossierError(
            f"{Path(path)}: {RESULT}: expected `effort` with budget, refinement and tolerance, found none that fits"
        ) from None
