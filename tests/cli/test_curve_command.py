"""The command `curve`: what a person reads about a curve file, and the exit status."""

import pytest

from deadfront.cli import main
from deadfront.dossier.curve_picture import characteristics, curve_picture
from deadfront.project.curve_checking import check_curve

HEADER = "current_a,min_melt_s,total_clear_s\n"
GOOD = "# temperature: 25 degC\n# frequency: 60 Hz\n" + HEADER
ROWS = "100,10,20\n200,1,2\n400,0.1,0.2\n900,0.01,0.02\n"


def test_sound_doubtful_and_wrong_files_side_by_side(tmp_path, capsys):
    """The whole text of the sound one; the worst of the files gives the status."""
    files = [tmp_path / name for name in ("sound.csv", "bare.csv", "rising.csv")]
    for file, text in zip(files, (GOOD + ROWS, HEADER + ROWS, GOOD + ROWS + "1000,0.1,0.2\n"), strict=True):
        file.write_text(text)
    assert main(["curve", str(files[0])]) == 0
    assert capsys.readouterr().out.replace(f"{tmp_path}/", "") == (
        "sound.csv: nothing to say against it\n"
        "  4 points, 100 A to 900 A\n"
        "  melting 10 s to 0.01 s\n"
        "  clearing 20 s to 0.02 s\n"
        "  states temperature 25 degC, frequency 60 Hz\n"
    )
    assert main(["curve", str(files[0]), str(files[1])]) == 1
    assert "bare.csv: usable, but doubtful" in capsys.readouterr().out
    assert main(["curve", *map(str, files)]) == 2
    assert "expected at most 0.01, the row above, got `0.1`" in capsys.readouterr().out


def test_file_that_is_not_there(tmp_path, capsys):
    """Said in words, as unfit."""
    assert main(["curve", str(tmp_path / "none.csv")]) == 2
    assert "got nothing: there is no such file" in " ".join(capsys.readouterr().out.split())


def test_picture_shows_every_curve_as_a_band_and_says_what_is_invented(tmp_path):
    """Names and statements stand on the curves; melting with tolerance and arcing time becomes a band of two edges."""
    out = tmp_path / "out.svg"
    link = tmp_path / "link.csv"
    invented = "# INVENTED demonstration data\n# tolerance: 20 %\n# arcing time: 13.3 ms\n"
    link.write_text(invented + "current_a,min_melt_s\n50,100\n100,10\n200,1\n500,0.1\n900,0.01\n")
    sound = tmp_path / "sound.csv"
    sound.write_text(GOOD + ROWS)
    assert main(["curve", str(link), str(sound), "--picture", str(out)]) == 1
    text = out.read_text()
    for words in ("link", "sound", "tolerance 20 %, arcing time 13.3 ms", "link.csv: INVENTED demonstration data"):
        assert words in text
    checked = [check_curve(link), check_curve(sound)]
    edges = [one.edges for one in characteristics(checked)]
    assert [len(each) for each in edges] == [2, 2]
    late = edges[0][1]
    at = list(late.current).index(min(late.current, key=lambda a: abs(a - 240.0)))
    assert late.current[at] == pytest.approx(240.0)
    assert late.time[at] == pytest.approx(1.0133)
    assert curve_picture(checked).svg == text


def test_picture_of_an_unfit_file_or_of_another_kind_is_refused_in_words(tmp_path, capsys):
    """Nothing is written."""
    bad, sound = tmp_path / "bad.csv", tmp_path / "sound.csv"
    bad.write_text(GOOD + ROWS + "1000,0.1,0.2\n")
    sound.write_text(GOOD + ROWS)
    assert main(["curve", str(bad), "--picture", str(tmp_path / "a.png")]) == 2
    assert "expected a curve fit for a project" in capsys.readouterr().err
    assert main(["curve", str(sound), "--picture", str(tmp_path / "a.gif")]) == 2
    assert "expected a name that ends in .svg or .png" in capsys.readouterr().err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["bad.csv", "sound.csv"]


@pytest.mark.long
def test_picture_in_pixels_is_a_png(tmp_path):
    """The bytes begin as those of a PNG do."""
    sound, out = tmp_path / "sound.csv", tmp_path / "out.png"
    sound.write_text(GOOD + ROWS)
    assert main(["curve", str(sound), "--picture", str(out)]) == 0
    assert out.read_bytes().startswith(b"\x89PNG\r\n\x1a\n")
