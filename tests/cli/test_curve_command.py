"""The command `curve`: what a person reads about a curve file, and the exit status."""

from deadfront.cli import main

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
