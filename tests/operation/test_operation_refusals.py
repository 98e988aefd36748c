"""Operation: every kind of contradiction of the section is refused, in these words, by every command."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML
from test_station_machine import FILES, WHOLE

import deadfront
from deadfront.claims.access import access_claims
from deadfront.claims.reported import subject_of
from deadfront.cli import main
from deadfront.operation import coding
from deadfront.operation.findings import EXAMPLES
from deadfront.operation.refusing import refuse_broken
from deadfront.project.errors import ProjectErrors
from deadfront.project.reading import load_bytes
from deadfront.station.station import build

HEAD = "deadfront: 1\ntitle: Kestrel Point\npractice: iec\n"


def blocks() -> list[pytest.param]:
    """File and expected text of each block of operation-refusals.txt."""
    text = Path(__file__).with_name("operation-refusals.txt").read_text(encoding="utf-8")
    found = []
    for block in re.split(r"^=== ", text, flags=re.MULTILINE)[1:]:
        title, _, source, _, says = re.split(r"^--- (.*)\n", block, flags=re.MULTILINE)
        found.append(pytest.param(source.removesuffix("\n"), says.rstrip("\n"), id=title.split(":")[0]))
    return found


def what_it_says(source: str) -> str:
    """The text of the refusal of a file in memory."""
    with pytest.raises(ProjectErrors) as caught:
        subject_of(load_bytes("unit.yaml", source.encode(), {}))
    return str(caught.value)


@pytest.mark.parametrize(("source", "says"), blocks())
def test_each_contradiction_is_refused_in_these_words(source: str, says: str):
    """Line, column, path, source line, expected, got and help of every kind, in full."""
    assert what_it_says(source) == says


@pytest.mark.parametrize(("source", "says"), blocks())
def test_a_refusal_can_be_read_aloud(source: str, says: str):
    """Our own lines are 80 columns wide, and none of them shows the inside of the program."""
    own = [line for line in says.splitlines() if line.strip() not in source]
    assert all(len(line) <= 80 for line in own)
    assert not re.search(r"None|\bnan\b|<|Traceback|'[a-z]+'|\bdict\b|\blist\(", says)
    assert len(re.findall(r"^unit\.yaml:\d+:\d+  operation", says, re.MULTILINE)) == says.count("expected ")


def test_every_example_of_a_whole_entry_is_itself_accepted():
    """One file with the example of each kind under a name has nothing that is refused."""
    names = {"doors": "fuse door", "locks": "switch lock", "exchanges": "exchange", "keys": "A1"}
    section = "".join(f"  {kind}: {{{names.get(kind, f'one of {kind}')}: {text}}}\n" for kind, text in EXAMPLES.items())
    key = f"A1: {EXAMPLES['keys']}"
    section = section.replace(key, f"{key}, C1: {{code: C, start: exchange}}")
    source = f"{HEAD}board: {{feeders: {{pump hall: {{}}}}}}\noperation:\n{section}"
    subject_of(load_bytes("unit.yaml", source.encode(), {}))
    assert "did you mean `switch`?" in what_it_says(source.replace("{device: switch,", "{device: swich,"))


# --- every command ---

BROKEN = f"{HEAD}operation:\n  schemes: [one key]\n  padlocks: {{mine: gate}}\n"
SAYS = """\
{file}:6:20  operation.padlocks.mine
    padlocks: {{mine: gate}}
                     ^^^^
expected a switch, breaker or source of this unit, got `gate`

help: for example `mine: switch`; the devices are switch, main
"""


@pytest.mark.parametrize(
    "words",
    [
        "check FILE",
        "check FILE --json",
        "check FILE --fresh --claim SC-02",
        "check FILE --break-points",
        "check FILE --claim SC-02 --map supply.fault_current,supply.x_over_r",
        "dossier FILE",
        "dossier FILE --part procedures",
        "access FILE",
        "access FILE --sheets",
        "access FILE --export OUT.json",
        "access FILE --picture steps OUT.svg",
        "choose FILE fuses",
        "choose FILE fuses --write best",
        "picture FILE time-current -o OUT.svg",
    ],
)
def test_every_command_refuses_in_the_same_words_and_writes_nothing(words: str, tmp_path: Path, monkeypatch, capsys):
    """Status 2, the refusal on standard error, nothing on standard output, no file."""
    file = tmp_path / "unit.yaml"
    file.write_text(BROKEN, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert main([str(file) if word == "FILE" else word for word in words.split()]) == 2
    assert capsys.readouterr() == ("", SAYS.format(file=file))
    assert [path.name for path in tmp_path.iterdir()] == ["unit.yaml"]


def test_another_units_file_is_refused_too(tmp_path: Path, capsys):
    """A file that only lends its fuses has to be sound as well."""
    sound, other = tmp_path / "sound.yaml", tmp_path / "other.yaml"
    sound.write_text(HEAD, encoding="utf-8")
    other.write_text(BROKEN, encoding="utf-8")
    assert main(["choose", str(sound), "fuses", "--stock", str(other)]) == 2
    assert capsys.readouterr() == ("", SAYS.format(file=other))


def test_the_library_raises_what_it_raises_for_every_other_wrong_file(tmp_path: Path):
    """`check` and its sisters raise `ProjectErrors`; each problem has its place as data."""
    file = tmp_path / "unit.yaml"
    file.write_text(BROKEN, encoding="utf-8")
    project = deadfront.load(file)
    with pytest.raises(deadfront.ProjectErrors) as caught:
        deadfront.check(project)
    (problem,) = caught.value.problems
    assert (problem.file, problem.line, problem.column) == (str(file), 6, 20)
    assert (problem.path, problem.found) == ("operation.padlocks.mine", "`gate`")


def test_a_section_without_doors_is_looked_at_too():
    """A test is wrong even where nothing says which doors the unit has; a sound section without them is no fault."""
    source = f"{HEAD}operation:\n  tests: {{tester: {{at: attic}}}}\n"
    assert what_it_says(source).startswith("unit.yaml:5:24  operation.tests.tester.at\n")
    subject_of(load_bytes("unit.yaml", source.replace("attic", "LV bus").encode(), {}))
    subject_of(load_bytes("unit.yaml", HEAD.encode(), {}))


def test_a_machine_too_large_is_no_fault_of_the_file(monkeypatch):
    """Every claim is open with the reason; nothing is refused."""
    monkeypatch.setattr(coding, "LARGEST", 100)
    project = load_bytes("unit.yaml", f"{HEAD}operation: {{schemes: [one key, source keys]}}\n".encode(), {})
    station = build(project.unit)
    refuse_broken(project, station)
    found = access_claims(project, station, ())
    assert {claim.verdict for claim in found} == {"open"}
    assert all("more than 1.0e+02 can be numbered" in claim.reason for claim in found)


# --- anything at all ---

SECTION = YAML(typ="safe").load(WHOLE)["operation"]
STRANGE = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-5, 99),
    st.text(max_size=12),
    st.sampled_from(["switch", "main", "fuse door", "LV door", "bayonet fuse", "tank vent", "generator breaker"]),
    st.sampled_from(["closed", "open", "earthed", "A", "hand", "LV bus", "feeder end pump hall", "cable A", "E"]),
    st.sampled_from(["one key", "key exchange"]),
    st.lists(st.sampled_from(["open", "closed", "LV bus", "A", "one key", "main-tie-main", "earthed"]), max_size=3),
    st.dictionaries(st.sampled_from(["device", "at", "code", "x", "main"]), st.text(max_size=5), max_size=3),
)
EXTRA = {
    "schemes": ["key exchange"],
    "locks": {"LV lock": {"device": "LV door", "code": "L", "free_at": ["closed"]}},
    "keys": {"L1": {"code": "L", "start": "LV lock"}},
    "bolts": {"hatch bolt": {"door": "LV door", "padlock": "yes"}},
    "rooms": {"vault": {"door": "LV door", "reaches": ["LV bus"], "release_inside": "yes"}},
    "connectors": {"elbow": {"cable": "cable A", "load_break": "yes"}},
    "far_sources": {"battery": {"feeder": "pump hall", "in_step": "no"}},
    "charges": {"capacitor": {"at": "LV bus", "drains": "yes"}},
}


def entries(part: object, path: tuple[object, ...] = ()) -> Iterator[tuple[object, ...]]:
    """Paths of all entries below a part."""
    inner = part.items() if isinstance(part, dict) else enumerate(part) if isinstance(part, list) else ()
    for key, value in inner:
        yield (*path, key)
        yield from entries(value, (*path, key))


def corrupted(draw: Callable[..., object]) -> dict[str, object]:
    """The section of the starter unit with some more in it, and up to three entries changed, dropped or renamed."""
    section = json.loads(json.dumps(SECTION | draw(st.sampled_from([{}, EXTRA, {**EXTRA, "schemes": ["one key"]}]))))
    for _ in range(draw(st.integers(1, 3))):
        path = draw(st.sampled_from(list(entries(section)) or [("doors",)]))
        inside = section
        for key in path[:-1]:
            inside = inside[key]
        what = draw(st.sampled_from(["change", "drop", "rename"]))
        if what == "change" or (what == "rename" and isinstance(inside, list)):
            inside[path[-1]] = draw(STRANGE)
        elif what == "drop":
            inside.pop(path[-1], None) if isinstance(inside, dict) else inside.pop(path[-1])
        elif path[-1] in inside:
            name = draw(st.one_of(st.text(max_size=8), st.sampled_from(["switch", "main", "doors"])))
            inside[name] = inside.pop(path[-1])
    return section


@pytest.mark.long
@settings(max_examples=60, deadline=None)
@given(st.data())
def test_no_corruption_of_the_section_goes_through_the_floor(data):
    """Refused with places, or judged: nothing else happens to a section with anything in it."""
    section = corrupted(data.draw)
    before, after = WHOLE[: WHOLE.index("operation:")], WHOLE[WHOLE.index("\n# Who confirms") :]
    source = f"{before}operation: {json.dumps(section)}\n{after}"
    try:
        project = load_bytes("unit.yaml", source.encode(), FILES)
        station = subject_of(project).station
    except ProjectErrors as refused:
        places = [(problem.line, problem.expected, problem.found) for problem in refused.problems]
    else:
        places = [(1, claim.verdict, claim.reason) for claim in access_claims(project, station, ())]
    assert places
    assert all(map(all, places))
