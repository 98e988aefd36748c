"""Claims: how far a range may move before a verdict flips is proved up to the reach, and a point fails at the flip."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from claim_files import BARE, DEFINITIONS, judged
from study_files import subject

from deadfront.claims.breaking import FURTHEST, reaches, search_limits
from deadfront.claims.comparing import ClaimDefinition, NotApplicable, Questions, Term, same_rule
from deadfront.claims.judging import examine, terms_at
from deadfront.claims.reach_objects import as_written, break_points_object
from deadfront.claims.report import subject_of
from deadfront.claims.schema import break_points_schema
from deadfront.cli import main
from deadfront.dossier.break_picture import break_picture, break_text
from deadfront.intervals import Effort
from deadfront.project.quantities import Quantity
from deadfront.project.reading import load

KESTREL = Path(__file__).parents[2] / "examples" / "kestrel-point" / "unit.yaml"
REPAIRED = KESTREL.with_name("repaired.yaml")
POWER = "supply.fault_power"
RANGES = {POWER: "60 MVA .. 150 MVA", "supply.x_over_r": "8 .. 12"}


def linear(limit, *, at_least=False):
    """A claim of which the break point is known: the fault power against a limit, in one case."""

    def make(walk):
        value = walk.inputs.number(POWER)
        return [Term("Power", value, limit, "VA", 1, (0,), lambda _: "always", lambda _: (), at_least)]

    return ClaimDefinition(
        "ZZ-01",
        "test",
        "The fault power keeps its limit.",
        (),
        same_rule("a limit", "none", "C"),
        lambda walk: Questions([lambda: make(walk)]),
    )


def moves_of(definition, changes):
    """Moves of a claim on the bare unit, by path and direction."""
    found = reaches(definition, subject(BARE, changes))
    return found, {(move.path, move.direction): move for move in found.moves}


def test_a_known_break_point_is_enclosed():
    """The power may rise to exactly 200 MVA: the reach lies below, the flip above, both within the tolerance."""
    _, moves = moves_of(linear(200e6), RANGES)
    move = moves[POWER, "up"]
    assert 199e6 <= move.reach <= 200e6 < move.flip <= 201e6
    assert move.close
    assert move.witness.margin < 0.0
    down = moves[POWER, "down"]
    assert (down.flip, down.reach, down.close) == (None, 20e6, True)


@pytest.mark.parametrize("identifier", sorted(DEFINITIONS))
def test_a_range_that_leaves_the_model_gives_no_number_and_no_other_question(identifier):
    """Each range as wide as it is followed, beyond IEEE 1584-2018 too: the same makers give terms, perhaps NaN."""
    definition, project = DEFINITIONS[identifier], load(REPAIRED)
    unit = subject_of(project)
    _, found = examine(definition, unit)
    if found is None:
        return
    centre = {path: found.field.box.centre[i] for i, path in enumerate(found.field.box.paths)}
    for path in centre.keys() & project.quantities.keys():
        low, high = search_limits(path, project.quantities[path])
        quantities = {**project.quantities, path: replace(project.quantities[path], low=low, high=high)}
        wide = terms_at(definition, replace(unit, project=replace(project, quantities=quantities)))
        for maker in found.field.makers:
            assert len(wide(centre, maker, None)) == len(found.field.terms_at(centre, maker, None))


def test_a_limit_from_below_breaks_downward():
    """A claim that asks for at least 30 MVA lets the power fall to there."""
    _, moves = moves_of(linear(30e6, at_least=True), RANGES)
    move = moves[POWER, "down"]
    assert 30e6 <= move.reach <= 30.5e6
    assert 29.5e6 <= move.flip < 30e6


def test_a_refuted_claim_says_to_which_part_its_range_must_shrink():
    """With a limit of 100 MVA the range from 60 MVA on holds up to there; from its other end nothing holds."""
    found, moves = moves_of(linear(100e6), RANGES)
    assert found.claim.verdict == "refuted"
    assert list(moves) == [(POWER, "up")]
    assert moves[POWER, "up"].start == 60e6
    assert 99e6 <= moves[POWER, "up"].reach <= 100e6 < moves[POWER, "up"].flip


def test_a_refuted_claim_may_hold_only_beyond_its_range():
    """With a limit of 40 MVA no part of the range holds; below it, values up to 40 MVA do."""
    _, moves = moves_of(linear(40e6), RANGES)
    move = moves[POWER, "up"]
    assert move.start == 60e6 / FURTHEST
    assert 39e6 <= move.reach <= 40e6 < move.flip


def test_what_does_not_read_a_range_is_not_mended_by_it():
    """A claim with one part that fails whatever the range is gets no move that would mend it."""

    def both(walk):
        bad = Term("Fixed", 2.0, 1.0, "1", 1, (0,), lambda _: "always", lambda _: ())
        return Questions([linear(100e6).terms(walk).makers[0], lambda: [bad]])

    definition = ClaimDefinition("ZZ-02", "test", "Two parts.", (), same_rule("a limit", "none", "C"), both)
    found, _ = moves_of(definition, RANGES)
    assert found.claim.verdict == "refuted"
    assert found.moves == ()


@pytest.mark.parametrize(
    ("identifier", "changes"),
    [
        ("SC-05", {"board.bus.short_time.current": "50 kA"}),
        ("AE-01", {"operation.places.bus section.clothing": "3.3 cal/cm2"}),
        ("SC-01", {}),
    ],
    ids=["SC-05", "AE-01", "SC-01"],
)
def test_a_file_whose_range_is_widened_inside_the_reach_is_shown_and_at_the_flip_refuted(identifier, changes):
    """The bracket holds for real claims when its ends are put into a file."""
    base = {**RANGES, "transformer.impedance": "5.5 % .. 6 %", **changes}
    found, moves = moves_of(DEFINITIONS[identifier], base)
    assert found.claim.verdict == "shown"
    flipped = [move for move in moves.values() if move.flip is not None and not np.isnan(move.witness.margin)]
    assert flipped, "no range of this claim has a break point: choose others"
    for move in flipped:
        quantity = found.ranges[move.path]
        other = quantity.low if move.direction == "up" else quantity.high
        assert judged(identifier, {**base, move.path: spanned(move.path, other, move.reach)}).verdict == "shown"
        assert judged(identifier, {**base, move.path: spanned(move.path, other, move.flip)}).verdict == "refuted"


@pytest.mark.parametrize("identifier", ["AE-01", "SC-04"])
def test_no_point_inside_a_proved_reach_fails(identifier):
    """Two thousand points a move, corners and the far end among them, the other ranges anywhere in theirs."""
    here = subject(BARE, {**RANGES, "transformer.impedance": "5.5 % .. 6 %"})
    field = examine(DEFINITIONS[identifier], here)[1].field
    found, random = reaches(DEFINITIONS[identifier], here), np.random.default_rng(11)
    assert any(move.reach != move.start for move in found.moves)
    for move in found.moves:
        shares = random.random((2000, len(field.box.paths)))
        shares = np.where(random.random(shares.shape) < 0.4, np.round(shares), shares)
        points = field.box.lower + shares * (field.box.upper - field.box.lower)
        along = np.where(random.random(2000) < 0.3, 1.0 - 1e-9, random.random(2000))
        points[:, field.box.paths.index(move.path)] = move.start + along * (move.reach - move.start)
        for maker in field.makers:
            for term in field.at(points, maker):
                assert np.all(np.asarray(term.margin()) >= -1e-12), (move, term.subject)


def spanned(path, one, two):
    """A range as the file writes it, every digit kept."""
    unit = {POWER: " VA", "supply.x_over_r": ""}.get(path, " %")
    low, high = sorted((one, two))
    factor = 100.0 if unit == " %" else 1.0
    return f"{low * factor:.17g}{unit} .. {high * factor:.17g}{unit}"


def test_a_choice_by_an_end_of_the_range_is_not_followed():
    """Where the highest power picks another limit, a search over powers says so and goes no further."""

    def chosen(walk):
        limit = 500e6 if walk.inputs.highest(POWER) > 400e6 else 200e6

        def make():
            return [Term("Power", walk.inputs.number(POWER), limit, "VA", 1, (0,), lambda _: "", lambda _: ())]

        return Questions([make])

    definition = ClaimDefinition("ZZ-03", "test", "By an end.", (), same_rule("a limit", "none", "C"), chosen)
    found, _ = moves_of(definition, RANGES)
    assert found.moves == ()
    assert found.skipped == {POWER: "an end of this range also chooses a rule or a row of a table"}
    assert "not followed: an end of this range" in break_text([found])


def test_a_choice_that_no_end_of_the_search_changes_is_followed():
    """A threshold beyond the search changes nothing."""

    def chosen(walk):
        limit = 500e6 if walk.inputs.highest(POWER) > 9e9 else 200e6
        return Questions(
            [lambda: [Term("P", walk.inputs.number(POWER), limit, "VA", 1, (0,), lambda _: "", lambda _: ())]]
        )

    definition = ClaimDefinition("ZZ-04", "test", "By an end.", (), same_rule("a limit", "none", "C"), chosen)
    found, moves = moves_of(definition, RANGES)
    assert found.skipped == {}
    assert 199e6 <= moves[POWER, "up"].reach <= 200e6


def test_a_claim_without_a_verdict_has_no_moves():
    """Not applicable: nothing is followed, and the text says so."""
    definition = ClaimDefinition(
        "ZZ-05", "test", "None.", (), same_rule("a limit", "none", "C"), lambda _: NotApplicable("Nothing here.")
    )
    found = reaches(definition, subject(BARE, RANGES))
    assert (found.ranges, found.moves) == ({}, ())
    assert "Nothing to move: not applicable." in break_text([found])


def test_the_search_keeps_to_the_plausible_span_of_the_entry():
    """A share ends at its span, a power at three times, a temperature at its span, an unknown path at the factor."""
    assert search_limits("transformer.impedance", Quantity(0.05, 0.2, 0.4, "", "share")) == (0.05 / FURTHEST, 0.5)
    assert search_limits(POWER, Quantity(6e7, 1e8, 1.5e8, "", "apparent power")) == (6e7 / FURTHEST, 1.5e8 * FURTHEST)
    assert search_limits("site.ambient", Quantity(-25.0, 0.0, 38.0, "", "temperature"))[0] < -25.0
    assert search_limits("no.such", Quantity(1.0, 2.0, 3.0, "", "assumed")) == (1.0 / FURTHEST, 9.0)


def test_ranges_stand_first_that_may_move_least():
    """Those that flip before those that hold to the end of the search, and nearer flips before farther ones."""
    found, _ = moves_of(DEFINITIONS["SC-01"], {**RANGES, "transformer.impedance": "5.5 % .. 6 %"})
    broken = [
        min((m.share for m in moves if m.flip is not None or not m.close), default=np.inf) for _, moves in found.ranked
    ]
    assert broken == sorted(broken)


def test_text_says_holds_in_eighty_columns_and_never_more_than_is_proved():
    """The reach is printed rounded back towards the range."""
    found, moves = moves_of(linear(200e6), RANGES)
    text = break_text([found])
    assert max(map(len, text.splitlines())) <= 80
    assert "holds up to" in text
    assert "safe" not in text
    printed = float(text.split("holds up to ")[1].split(" MVA")[0])
    assert printed * 1e6 <= moves[POWER, "up"].reach


def test_the_picture_is_the_same_bytes_each_time_and_names_its_ranges():
    """No date, no random identifier; the alternate text is the finding in words."""
    found, _ = moves_of(linear(200e6), RANGES)
    assert break_picture([found]).svg == break_picture([found]).svg
    assert "<dc:date>" not in break_picture([found]).svg
    assert "supply fault power" in break_picture([found]).alternate


def test_a_picture_of_nothing_is_an_error():
    """No shown claim with a range: there is nothing to rank."""
    with pytest.raises(ValueError, match=r"^break points: no shown claim reads a range that was followed$"):
        break_picture([reaches(linear(200e6), subject(BARE, {}))])


def test_check_prints_break_points_of_one_claim_and_writes_the_picture(tmp_path, capsys):
    """The exit status is that of the verdict; the picture is an SVG."""
    target = tmp_path / "moves.svg"
    assert main(["check", str(KESTREL), "--claim", "SC-02", "--break-points", "--picture", str(target)]) == 0
    out = capsys.readouterr().out
    assert "SC-02  shown" in out
    assert "holds up to 14." in out
    assert target.read_text(encoding="utf-8").lstrip().startswith("<?xml")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--break-points", "--map", "a,b"], "--break-points and --map are two questions: ask one at a time"),
        (["--break-points", "--watch"], "--watch goes with a plain check, not with --break-points or --map"),
        (["--picture", "x.svg"], "--picture goes with --break-points or --map"),
        (["--map", "a,b"], "--map needs --claim: which claim to map"),
        (["--map", "a", "--claim", "SC-02"], "--map: expected two ranges as X,Y, got 'a'"),
    ],
)
def test_options_that_do_not_go_together_are_refused(options, words, capsys):
    """One sentence on standard error, status 2, nothing computed."""
    assert main(["check", str(KESTREL), *options]) == 2
    captured = capsys.readouterr()
    assert captured.err == f"deadfront: {words}\n"
    assert captured.out == ""


def test_the_object_keeps_to_its_schema_and_says_what_the_text_says(capsys):
    """One object on standard output: both directions of each range, SI and as the file writes it, and the ranking."""
    assert main(["check", str(KESTREL), "--claim", "SC-02", "--break-points", "--json"]) == 0
    plain = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(break_points_schema()).validate(plain)
    ranges = {one["path"]: one for one in plain["claims"][0]["ranges"]}
    down, up = ranges["supply.fault_current"]["moves"]
    assert (down["direction"], down["status"], down["fails_at"]) == ("down", "proved", None)
    assert (up["direction"], up["status"]) == ("up", "flips")
    assert up["holds_to"]["value"] < up["fails_at"]["value"] == up["failing_point"]["inputs"]["supply.fault_current"]
    assert up["failing_point"]["margin"] < 0.0
    assert float(up["holds_to"]["text"].removesuffix(" kA")) * 1000.0 <= up["holds_to"]["value"]
    assert float(up["fails_at"]["text"].removesuffix(" kA")) * 1000.0 >= up["fails_at"]["value"]
    assert plain["ranking"][0] == {
        "claim": "SC-02",
        "path": "supply.fault_current",
        "direction": "up",
        "share_of_range": up["share_of_range"],
        "status": "flips",
    }
    assert len(plain["ranking"]) == sum(len(one["moves"]) for one in ranges.values())


def test_refuted_skipped_and_not_applicable_claims_fit_the_schema():
    """Every kind of finding: a mended range, a range not followed, no range at all."""

    def chosen(walk):
        limit = 500e6 if walk.inputs.highest(POWER) > 400e6 else 200e6
        return Questions(
            [lambda: [Term("P", walk.inputs.number(POWER), limit, "VA", 1, (0,), lambda _: "", lambda _: ())]]
        )

    rule = same_rule("a limit", "none", "C")
    by_end = ClaimDefinition("ZZ-06", "test", "By an end.", (), rule, chosen)
    none = ClaimDefinition("ZZ-07", "test", "None.", (), rule, lambda _: NotApplicable("Nothing here."))
    here = subject(BARE, RANGES)
    found = [reaches(definition, here) for definition in (linear(100e6), by_end, none)]
    plain = break_points_object(here.project, found, Effort())
    jsonschema.Draft202012Validator(break_points_schema()).validate(plain)
    assert [claim["verdict"] for claim in plain["claims"]] == ["refuted", "shown", "not applicable"]
    assert plain["claims"][1]["ranges"][0]["not_followed"].startswith("an end of this range")
    assert plain["ranking"] == []


@pytest.mark.parametrize(
    ("text", "dimension", "value", "upward", "written"),
    [
        ("3.2 .. 9.8 kA", "current", 14297.11227, False, "14.2971 kA"),
        ("3.2 .. 9.8 kA", "current", 14297.11227, True, "14.2972 kA"),
        ("3200 A .. 9.8 kA", "current", 9000.0, True, "9 kA"),
        ("5.75 % +/- 7.5 %", "share", 0.0444444444, True, "4.44445 %"),
        ("6 +/- 10 %", "number", 2.0, True, "2"),
        ("14 degF .. 100 degF", "temperature", 37.7777777777, True, "100 degF"),
        ("1e3 .. 2e3 ft", "length", 304.8, False, "1000 ft"),
        ("0.2 .. 0.4 °C", "temperature", -0.25, True, "-0.25 degC"),
        ("assumed from the standard", "assumed", 1.0, True, None),
    ],
)
def test_a_value_is_written_in_the_unit_of_the_file(text, dimension, value, upward, written):
    """Six digits, rounded the way that was asked for; what the tool assumed has no unit of the file."""
    assert as_written(value, Quantity(0.0, 0.5, 1.0, text, dimension), upward=upward) == written
