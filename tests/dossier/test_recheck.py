"""Dossier: a dossier checks itself, claim by claim, and says in words what differs."""

from __future__ import annotations

import copy
import hashlib
import json
import re
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_document import plain_document, sample_document
from sample_report import sample_report

from deadfront.claims.report import to_json
from deadfront.dossier.document import CHECKSUMS, RESULT
from deadfront.dossier.errors import DossierError
from deadfront.dossier.recheck import Computed, compare, recheck
from deadfront.dossier.same_pages import SAVED_AGAIN
from deadfront.project.errors import ProjectErrors

RESULT_OF_SAMPLE = to_json(sample_report())


def again(_project):
    """The same result as the dossier's, and the same document."""
    return computed(RESULT_OF_SAMPLE)


def computed(result):
    """A result, and the sample's document."""
    return Computed(result, lambda *_: plain_document())


@pytest.fixture
def dossier(tmp_path: Path) -> Path:
    """The sample's document on disk."""
    path = tmp_path / "gannet-quay.pdf"
    path.write_bytes(plain_document())
    return path


UNLOOKED = "  sheets not compared: what they are made from differs already\n"


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
    with pikepdf.open(dossier) as pdf:
        sheets = len(pdf.pages)
    assert found.text == f"gannet-quay.yaml: computed again, 5 claims and {sheets} sheets, no difference\n"


def test_the_project_that_is_computed_is_the_attached_one(dossier):
    """The function gets the project of the attached file, with the files it carries."""
    seen = []
    recheck(dossier, lambda project: seen.append(project) or again(project))
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
    found = recheck(dossier, lambda _: computed(changed(**fields)))
    assert found.differences == (sentence,)
    assert found.text == f"gannet-quay.yaml: computed again, 5 claims, 1 difference\n  {sentence}\n{UNLOOKED}"


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


def test_another_version_of_the_tool_compares_claims_and_says_why_no_sheets(dossier):
    """The versions stand beside each other; the sheets of another version are no difference, and not the same."""
    newer = changed(evidence=[], a_field_that_came_later=1) | {"version": "9.9.9", "a_table_that_came_later": []}
    found = recheck(dossier, lambda _: computed(newer))
    assert (found.differences, found.sheets, found.same) == ((), 0, False)
    words = "sheets not compared: the dossier was made with version '0.1.0' of the tool, this is '9.9.9'"
    assert found.text == f"gannet-quay.yaml: computed again, 5 claims, no difference\n  {words}\n"


def test_arithmetic_and_tables_of_the_attached_result_are_compared_too(dossier):
    """What stands beside verdict and numbers: a step of the arithmetic, the assumptions."""
    result = changed(evidence=[])
    result["assumptions"] = []
    assert recheck(dossier, lambda _: computed(result)).differences == (
        "SC-03: evidence: not what is computed now",
        "result: assumptions: not what is computed now",
    )


def pages_of(path: Path, change) -> None:
    """Change the open PDF of a dossier and save it, its attached files as they were."""
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        change(pdf)
        pdf.save(path, fix_metadata_version=False)


def test_a_dossier_saved_again_by_another_program_is_the_same_and_says_so(dossier):
    """Other bytes, packed otherwise, the same sheets: no difference, and a note."""
    with pikepdf.open(dossier, allow_overwriting_input=True) as pdf:
        pdf.save(
            dossier,
            object_stream_mode=pikepdf.ObjectStreamMode.generate,
            recompress_flate=True,
            compress_streams=True,
            fix_metadata_version=False,
        )
    assert dossier.read_bytes() != plain_document()
    found = recheck(dossier, again)
    assert (found.same, found.note) == (True, SAVED_AGAIN)
    assert found.text.endswith(f"no difference\n  {SAVED_AGAIN}\n")


def _swap(pdf):
    first, second = (pdf.pages[number].obj.Contents.read_bytes() for number in (0, 1))
    pdf.pages[0].obj.Contents.write(second)
    pdf.pages[1].obj.Contents.write(first)


def _paint_over(pdf):
    """A white field over the sheet, as an annotation."""
    box = pikepdf.Dictionary(
        Type=pikepdf.Name.Annot, Subtype=pikepdf.Name.Square, Rect=[0, 0, 600, 800], IC=[1, 1, 1], C=[1, 1, 1]
    )
    pdf.pages[2].obj.Annots = pikepdf.Array([*pdf.pages[2].obj.get("/Annots", []), pdf.make_indirect(box)])


def _turn_all(pdf):
    """Inherited from the tree of pages: no page itself is touched."""
    pdf.Root.Pages.Rotate = 180


def _title(pdf):
    pdf.docinfo["/Title"] = "Another unit"


def _spoken(pdf):
    """What a reader hears who does not see the picture."""
    for thing in pdf.objects:
        if isinstance(thing, pikepdf.Dictionary) and "/Alt" in thing:
            thing.Alt = "nothing to see here"


def _action(pdf):
    pdf.Root.OpenAction = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS="app.alert(1)")


def _labels(pdf):
    numbering = pikepdf.Dictionary(S=pikepdf.Name.D, St=5)
    pdf.Root.PageLabels = pikepdf.Dictionary(Nums=pikepdf.Array([0, numbering]))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (_swap, r"sheets 1 to 2: not what the attached files give"),
        (_paint_over, r"sheet 3: not what the attached files give"),
        (_turn_all, r"sheets 1 to \d+: not what the attached files give"),
        (_title, r"beside the sheets: metadata: not what the attached files give"),
        (_action, r"beside the sheets: entry /OpenAction: not what the attached files give"),
        (_labels, r"beside the sheets: numbers of the sheets: not what the attached files give"),
        (_spoken, r"beside the sheets: reading structure, or text .*: not what the attached files give"),
    ],
)
def test_sheets_that_the_files_do_not_give_are_named(dossier, change, said):
    """Attached files untouched, something that a reader sees or hears changed: never `no difference`."""
    pages_of(dossier, change)
    (difference,) = recheck(dossier, again).differences
    assert re.fullmatch(said, difference)


def test_a_sheet_that_was_taken_out_is_counted(dossier):
    """Fewer sheets than the files give."""
    pages_of(dossier, lambda pdf: pdf.pages.__delitem__(-1))
    first = recheck(dossier, again).differences[0]
    assert re.fullmatch(r"sheets: the dossier has \d+, its files give \d+", first)


def test_the_pages_of_another_unit_are_not_those_of_the_files(tmp_path):
    """The attached files of one dossier under the pages of another: the sheets differ."""
    path = tmp_path / "swapped.pdf"
    path.write_bytes(sample_document(issued="2020-02-02"))
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        with pikepdf.open(BytesIO(plain_document())) as good:
            for name in good.attachments:
                data = good.attachments[name].get_file().read_bytes()
                pdf.attachments[name].get_file().obj.write(data)
        pdf.save(path)
    found = recheck(path, again)
    assert any(re.match(r"sheets? \d", words) for words in found.differences)


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
