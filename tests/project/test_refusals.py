"""Each kind of fault of a project file or of a file beside it: the whole text of what the reader says."""

import re
from pathlib import Path

import pytest

from deadfront.project.errors import MOST_SHOWN, Problem, ProjectErrors, visible
from deadfront.project.reading import load_bytes

HEAD = "deadfront: 1\ntitle: Kestrel Point\npractice: iec\n"


def blocks():
    """Name, files and expected text of each block of refusals.txt."""
    text = Path(__file__).with_name("refusals.txt").read_text(encoding="utf-8")
    found = []
    for block in re.split(r"^=== ", text, flags=re.MULTILINE)[1:]:
        title, *parts = re.split(r"^--- (.*)\n", block, flags=re.MULTILINE)
        files = {name: body.removesuffix("\n") for name, body in zip(parts[::2], parts[1::2], strict=True)}
        says = files.pop("says").rstrip("\n")
        found.append(pytest.param(files, says, id=title.split(":")[0]))
    return found


def what_it_says(source, files=None):
    """The text of the refusal of a file in memory."""
    with pytest.raises(ProjectErrors) as caught:
        load_bytes("unit.yaml", source if isinstance(source, bytes) else source.encode(), files or {})
    return str(caught.value)


@pytest.mark.parametrize(("files", "says"), blocks())
def test_each_fault_is_refused_in_these_words(files, says):
    """Place, source line, caret, expected, got and help of every kind of fault, in full."""
    contents = {name: body.encode() for name, body in files.items()}
    assert what_it_says(contents.pop("unit.yaml"), contents) == says


@pytest.mark.parametrize(
    ("source", "files", "says"),
    [
        (
            b"deadfront: 1\ntitle: Marl Stra\xdfe\n",
            {},
            "unit.yaml:2:17\n"
            "    title: Marl Stra\\xdfe\n"
            "                    ^^^^\n"
            "expected text in UTF-8, got the byte 0xdf at position 29\n\n"
            "help: save the file with the encoding UTF-8",
        ),
        (
            b"deadfront: 1\ntitle: a\x07b\n",
            {},
            "unit.yaml:2:9\n"
            "    title: a\\x07b\n"
            "            ^^^^\n"
            "expected characters that print and keep the writing direction, got U+0007\n\n"
            "help: delete the character",
        ),
        (
            "deadfront: 1\ntitle: a\u202eb\n".encode(),
            {},
            "unit.yaml:2:9\n"
            "    title: a\\u202eb\n"
            "            ^^^^^^\n"
            "expected characters that print and keep the writing direction, got U+202E\n"
            "    RIGHT-TO-LEFT OVERRIDE\n\n"
            "help: delete the character",
        ),
        (
            "deadfront: 1\ntitle: a\u2028b\n".encode(),
            {},
            "unit.yaml:2:9\n"
            "    title: a\\u2028b\n"
            "            ^^^^^^\n"
            "expected characters that print and keep the writing direction, got U+2028 LINE\n"
            "    SEPARATOR\n\n"
            "help: delete the character",
        ),
        (
            (HEAD + "fuses: {limiter: {curve: a.csv}}\n").encode(),
            {"a.csv": "current_a".encode("utf-16")},
            "a.csv:1:1\n"
            "    \\xff\\xfec\\x00u\\x00r\\x00r\\x00e\\x00n\\x00t\\x00_\\x00a\\x00\n"
            "    ^^^^\n"
            "expected text in UTF-8, got the byte 0xff at position 0\n\n"
            "help: save the file with the encoding UTF-8",
        ),
        (
            (HEAD + "fuses: {limiter: {curve: a.csv}}\n").encode(),
            {"a.csv": b"current_a,total_clear_s\n1,\x001\n"},
            "a.csv:2:3\n"
            "    1,\\x001\n"
            "      ^^^^\n"
            "expected characters that print and keep the writing direction, got U+0000\n\n"
            "help: delete the character",
        ),
        (
            b"#" * (1 << 20) + b"\n",
            {},
            "unit.yaml\nexpected a project file of at most 1 MiB, got 1048577 bytes",
        ),
        (
            (HEAD + "fuses: {limiter: {curve: a.csv}}\n").encode(),
            {"a.csv": b"#" * (1 << 20) + b"\n"},
            "unit.yaml:4:26  fuses.limiter.curve\n"
            "    fuses: {limiter: {curve: a.csv}}\n"
            "                             ^^^^^\n"
            "expected a CSV file of at most 1 MiB beside this one, got 1048577 bytes\n\n"
            "help: put the file there or leave the entry out",
        ),
        (
            (HEAD + "board: {feeders: {" + "x" * 401 + ": {}}}").encode(),
            {},
            f"unit.yaml:4:19  board.feeders.{'x' * 401}\n"
            f"    board: {{feeders: {{{'x' * 55}...\n"
            f"                      {'^' * 58}\n"
            "expected at most 400 characters, got 401",
        ),
    ],
    ids=[
        "other_encoding",
        "bell",
        "direction",
        "separator",
        "utf16",
        "null_in_csv",
        "large_file",
        "large_csv",
        "long_name",
    ],
)
def test_bytes_that_are_no_harmless_text_are_refused_in_these_words(source, files, says):
    """Encodings, control and direction characters, and sizes, with the byte or character that is wrong."""
    assert what_it_says(source, files) == says


def test_all_faults_of_all_files_come_in_one_run_in_the_order_of_the_files():
    """Faults of form, of value, of contradiction and of a CSV file stand side by side, sorted by place."""
    source = HEAD + (
        "suply: {}\n"
        "supply: {voltage: 24.94 MV, fault_current: 9 kA, fault_power: 100 MVA}\n"
        "operation: {places: {p: {feeder: pump hall}}}\n"
        "fuses: {limiter: {curve: a.csv}}\n"
        "supply: {}\n"
    )
    with pytest.raises(ProjectErrors) as caught:
        load_bytes("unit.yaml", source.encode(), {"a.csv": b"current_a,total_clear_s\n1,x\n2,y\n"})
    assert [problem.place for problem in caught.value.problems] == [
        "unit.yaml:4:1",
        "unit.yaml:5:19",
        "unit.yaml:5:50",
        "unit.yaml:6:34",
        "unit.yaml:8:1",
        "a.csv:2:3",
        "a.csv:3:3",
    ]


def test_a_fault_of_a_file_named_twice_is_told_once():
    """Two fuses with one faulty curve file give one refusal."""
    source = HEAD + "fuses: {limiter: {curve: a.csv}, bayonet: {curve: a.csv}}\n"
    assert what_it_says(source, {"a.csv": b"current_a,total_clear_s\n1,1\n2,0.01\n"}) == (
        "a.csv:3:3  total_clear_s\n    2,0.01\n      ^^^^\nexpected at least 3 points, got 2"
    )


def test_a_billion_entries_in_a_short_file_are_not_made():
    """The alias bomb stops at its first anchor, with nothing expanded."""
    levels = "".join(f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9) if n else 'lol'}]\n" for n in range(9))
    assert what_it_says(levels) == (
        "unit.yaml:1:5\n    a0: &a0 [lol]\n        ^^^\nexpected the entries themselves, got the anchor `&a0`\n\n"
        "help: delete the anchor"
    )


def test_more_entries_than_any_unit_has_are_refused():
    """A list of 20 001 words ends the reading where the limit lies."""
    said = what_it_says("title: [" + "a," * 20_001 + "]\n")
    assert said.endswith("expected at most 20000 entries, got more")


def test_a_long_list_of_faults_is_cut_with_their_number():
    """A hundred are spelt out; the rest is counted."""
    source = HEAD + "supply:\n" + "".join(f"  zebra{n}: 1\n" for n in range(MOST_SHOWN + 7))
    said = what_it_says(source)
    assert said.endswith("\n\nand 7 more")
    assert said.count("expected an entry of `supply`") == MOST_SHOWN


def test_our_own_words_are_plain_ascii_and_80_columns_wide():
    """A refusal prints on any terminal; only what the file itself holds may be wider or stranger."""
    for block in blocks():
        files, says = block.values
        own = [line for line in says.splitlines() if line not in "".join(files.values())]
        assert all(len(line) <= 80 for line in own)
        assert "\x1b" not in says
        if all(body.isascii() for body in files.values()):
            assert says.isascii()


def test_what_does_not_print_is_shown_as_its_escape():
    """A message never sends a control or direction character to the terminal."""
    assert visible("a\x1b[31m\u202eb\u00e9") == "a\\x1b[31m\\u202eb\u00e9"
    problem = Problem("u.yaml", 1, 1, "a\x1bb", "x", "`\x1b`", "", "\x1b[2J", 4)
    assert "\x1b" not in str(problem)
