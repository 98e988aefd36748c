"""Dossier: a dossier checks itself, claim by claim, and says in words what differs."""

from __future__ import annotations

import copy
import hashlib
import json
import re
from pathlib import Path

import pikepdf
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_document import plain_document
from sample_report import sample_report

from deadfront.claims.report import to_json
from deadfront.dossier.document import CHECKSUMS, RESULT
from deadfront.dossier.errors import DossierError
from deadfront.dossier.recheck import compare, recheck
from deadfront.project.errors import ProjectErrors

RESULT_OF_SAMPLE = to_json(sample_report())


def again(_project):
    """The same result as the dossier's."""
    return RESULT_OF_SAMPLE


@pytest.fixture
def dossier(tmp_path: Path) -> Path:
    """The sample's document on disk."""
    path = tmp_path / "gannet-quay.pdf"
    path.write_bytes(plain_document())
    return path


def changed(**fields: object):
    """A result in which fields of the first claim differ."""
    result = copy.deepcopy(RESULT_OF_SAMPLE)
    result["claims"][0] |= fields
    return result


def altered(path: Path, name: str, data: bytes | None) -> None:
    """Put other bytes in the place of an attached file, or take it out."""
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        if data is None:
            del pdf.attachments[name]
        else:
            pdf.attachments[name].get_file().obj.write(data)
        pdf.save(path)


def test_an_untouched_dossier_has_no_difference(dossier):
    """Same files, same result: nothing to say."""
    found = recheck(dossier, again)
    assert found.same
    assert (found.differences, found.claims) == ((), 5)
    assert found.text == "gannet-quay.yaml: computed again, 5 claims, no difference\n"


def test_the_project_that_is_computed_is_the_attached_one(dossier):
    """The function gets the project of the attached file, with the files it carries."""
    seen = []
    recheck(dossier, lambda project: seen.append(project) or RESULT_OF_SAMPLE)
    assert seen[0].source == sample_report().project.source
    assert seen[0].name == "gannet-quay.yaml"


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"verdict": "refuted"}, "SC-03: verdict was 'shown', is now 'refuted'"),
        ({"value": 9700.0}, "SC-03: value was 9613.2, is now 9700.0"),
        ({"limit": None}, "SC-03: limit was 50000.0, is now nothing"),
        ({"margin": 0.7}, "SC-03: margin was 0.8077, is now 0.7"),
        ({"coverage": "exact"}, "SC-03: coverage was 'sampled, 4096 points', is now 'exact'"),
        (
            {"worst_case": None},
            "SC-03: worst case was 'utility at 9.8 kA, fed by way A, conductors cold', is now nothing",
        ),
        (
            {"sentence": "Other."},
            "SC-03: sentence was 'The MV fuses interrupt the largest fault at their terminals.', is now 'Other.'",
        ),
    ],
)
def test_each_difference_is_said_in_words(dossier, fields, sentence):
    """Claim, what, was, is now."""
    found = recheck(dossier, lambda _: changed(**fields))
    assert found.differences == (sentence,)
    assert found.text == f"gannet-quay.yaml: computed again, 5 claims, 1 difference\n  {sentence}\n"


def test_claims_that_came_or_went_are_said():
    """A claim only in one of the two."""
    fewer = copy.deepcopy(RESULT_OF_SAMPLE)
    gone = fewer["claims"].pop(0)["id"]
    assert compare(RESULT_OF_SAMPLE, fewer) == [f"{gone}: in the dossier, but no longer computed"]
    assert compare(fewer, RESULT_OF_SAMPLE) == [f"{gone}: computed now, but not in the dossier"]


@given(st.floats(-0.9e-9, 0.9e-9))
def test_rounding_of_the_library_is_no_difference(share):
    """Numbers equal to 1e-9 are the same number."""
    assert compare(RESULT_OF_SAMPLE, changed(value=9613.2 * (1 + share))) == []


def test_more_than_rounding_is_a_difference():
    """Two parts in a thousand million are said."""
    assert len(compare(RESULT_OF_SAMPLE, changed(value=9613.2 * (1 + 2e-9)))) == 1


def test_an_altered_project_file_is_noticed(dossier):
    """A number changed in the attached file, the result left as it was."""
    altered(dossier, "gannet-quay.yaml", sample_report().project.source.replace(b"Gannet", b"Gannot"))
    assert recheck(dossier, again).differences == (
        "gannet-quay.yaml: the attached file was altered; its checksum is not the listed one",
        "project file: the attached file is not the one the result was computed from",
    )


def test_an_altered_curve_is_noticed(dossier):
    """A curve file changed or taken out."""
    altered(dossier, "curves/bayonet-65.csv", b"current_a,total_clear_s\n1,1\n")
    assert recheck(dossier, again).differences == (
        "curves/bayonet-65.csv: the attached file was altered; its checksum is not the listed one",
    )
    altered(dossier, "curves/bayonet-65.csv", None)
    assert recheck(dossier, again).differences == ("curves/bayonet-65.csv: listed in the checksums, but not attached",)


def test_checksums_that_were_taken_out_or_shortened_are_noticed(dossier):
    """Without the list nothing vouches for the files."""
    listed = f"{hashlib.sha256(sample_report().project.source).hexdigest()}  gannet-quay.yaml\n"
    altered(dossier, CHECKSUMS, listed.encode())
    assert recheck(dossier, again).differences == (
        "curves/bayonet-65.csv: attached, but not listed in the checksums",
        "result.json: attached, but not listed in the checksums",
    )
    altered(dossier, CHECKSUMS, None)
    assert recheck(dossier, again).differences == (
        "checksums: the dossier carries no list of checksums, so its files may have been altered",
    )


def test_another_version_of_the_tool_is_said(dossier):
    """The versions stand beside each other."""
    result = RESULT_OF_SAMPLE | {"version": "9.9.9"}
    assert recheck(dossier, lambda _: result).differences == (
        "version of the tool: the dossier was made with '0.1.0', this is '9.9.9'",
    )


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (None, r"expected an attached result\.json, found checksums\.txt, curves/bayonet-65\.csv, gannet-quay\.yaml"),
        (b"{", r"result\.json: expected JSON, found damaged text \(.*\)"),
        (b"\xff\xfe\x00", r"result\.json: expected JSON, found damaged text \(.*\)"),
        (b"[" * 100_000, r"result\.json: expected JSON, found damaged text \(.*\)"),
        (b"[1]", r"result\.json: expected an object with a list of claims"),
        (b'{"claims": {}}', r"result\.json: expected an object with a list of claims"),
    ],
)
def test_a_dossier_without_a_usable_result_is_refused(dossier, data, sentence):
    """Missing, damaged or of another form."""
    altered(dossier, RESULT, data)
    with pytest.raises(DossierError, match=f"^{re.escape(str(dossier))}: {sentence}$"):
        recheck(dossier, again)


@pytest.mark.parametrize("claims", [[1], [{"id": None}], [{}], [{"id": "SC-03", "value": {"a": [1]}}]])
def test_a_strange_list_of_claims_gives_differences_and_no_traceback(dossier, claims):
    """A list of anything is compared, never trusted."""
    altered(dossier, RESULT, json.dumps({"claims": claims}).encode())
    assert recheck(dossier, again).differences


def test_a_dossier_without_its_project_file_is_refused(dossier):
    """No associated Source: nothing to compute from."""
    altered(dossier, "gannet-quay.yaml", None)
    sentence = r"expected one attached project file \(relationship Source\), found 0"
    with pytest.raises(DossierError, match=f"^{re.escape(str(dossier))}: {sentence}$"):
        recheck(dossier, again)


def test_a_project_file_that_is_no_longer_accepted_is_said_with_its_place(dossier):
    """The reader's own located errors pass through."""
    altered(dossier, "gannet-quay.yaml", b"deadfront: 1\ntitle: x\npractice: north-american\nsuply: {}\n")
    with pytest.raises(ProjectErrors, match=r"gannet-quay\.yaml:4"):
        recheck(dossier, again)


def test_a_project_file_whose_keys_fit_nothing_is_no_longer_accepted(dossier):
    """What the commands refuse is refused of a dossier, too, and in the same words."""
    section = b"operation: {schemes: [one key], keys: {spare: {code: Z, start: hand}}}\n"
    altered(dossier, "gannet-quay.yaml", b"deadfront: 1\ntitle: x\npractice: north-american\n" + section)
    with pytest.raises(ProjectErrors, match=r"^gannet-quay\.yaml:4:54  operation\.keys\.spare\.code\n"):
        recheck(dossier)
