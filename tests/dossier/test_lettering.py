"""Dossier: text comes out as the fonts can show it, and lines fit their width."""

from __future__ import annotations

import pytest
import typst
from hypothesis import given
from hypothesis import strategies as st

from deadfront.dossier.lettering import coverage, font_folder, printable, replaced, width, wrapped


def test_plain_text_of_many_scripts_stays_as_it_is():
    """Letters, Greek, signs and no-break spaces are not touched."""
    text = "Kestrel Point, Ærø, Škoda hall, Ω µ √ ≤ \u00a0 \u202f Жук"
    assert printable(text) == text


def test_hidden_characters_are_written_out():
    """What turns the writing round, hides or has no glyph is made visible; line ends become spaces."""
    assert printable("a\u202eb\u200bc\u00add\x00e\ufeff") == "a[U+202E]b[U+200B]c[U+00AD]d[U+0000]e[U+FEFF]"
    assert printable("a\nb\tc\r\nd") == "a b c  d"
    assert printable("\u6c34\U0001f525") == "[U+6C34][U+1F525]"


def test_replaced_lists_what_was_written_out():
    """Each character once, sorted, whatever text it stands in; a bracket in the text is not one of them."""
    assert replaced(["a\u202e", "b\u6c34\u202e", "[U+0041]"]) == ("U+202E", "U+6C34")


@given(st.text(max_size=200))
def test_printable_text_is_covered(text):
    """Nothing that printable returns lacks a glyph, and a second pass changes nothing."""
    shown = printable(text)
    assert {ord(c) for c in shown} <= coverage() | {0x20}
    assert printable(shown) == shown


def test_every_covered_character_sets_in_every_style_of_the_pages():
    """The typesetter, as strict as for PDF/A, has a glyph for each character in roman, bold, italic and mono."""
    text = "".join(sorted(c for c in {printable(chr(code)) for code in coverage()} if len(c) == 1))
    source = b"""#set document(title: "t")
#set text(font: ("Libertinus Serif", "DejaVu Sans"), lang: "en", size: 6pt)
#let words = sys.inputs.text.clusters().chunks(40).map(part => part.join(" ")).join(linebreak())
#words #strong(words) #emph(words) #text(weight: "semibold", words)
#text(font: ("DejaVu Sans Mono", "DejaVu Sans"), words)"""
    fonts = typst.Fonts(include_system_fonts=False, font_paths=[str(font_folder())])
    compiler = typst.Compiler(source, font_paths=fonts, sys_inputs={"text": text})
    data, warnings = compiler.compile_with_warnings(format="pdf", pdf_standards=["a-3a", "ua-1"], timestamp=0)
    assert len(text) > 5000
    assert data
    assert warnings == []


@given(st.lists(st.text("abcdefghij WM", max_size=60), min_size=1, max_size=3).map(" ".join), st.floats(5.0, 40.0))
def test_wrapped_lines_fit_and_keep_every_letter(text, widest):
    """No line is wider than asked, and no letter is lost."""
    lines = wrapped(text, 1.5, widest)
    assert all(width(line, 1.5) <= widest + 1e-9 for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


def test_width_is_the_font_s_own():
    """The letter M of this font is 1767 of 2048 units wide."""
    assert width("MM", 2.048) == pytest.approx(2 * 1.767, rel=1e-12)
