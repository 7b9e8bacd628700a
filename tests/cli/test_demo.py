"""`gratemap demo`: the whole job, nothing left behind where it was run, the picture where it is told."""

from __future__ import annotations

from pathlib import Path

PNG = b"\x89PNG"


def test_the_whole_job_leaves_nothing_in_the_folder_and_says_where_its_picture_is(tmp_path, monkeypatch, gratemap):
    monkeypatch.chdir(tmp_path)
    result = gratemap("demo")
    assert result.exit_code == 0, result.stderr
    assert list(tmp_path.iterdir()) == []
    picture = Path(result.stdout.splitlines()[-1].removeprefix("Picture: "))
    assert picture.is_absolute() and picture.read_bytes().startswith(PNG)
    picture.unlink()
    for headline in ("THE MAP", "DID THE LAST CHANGE HELP?", "WHICH KNOB TO TURN", "WHERE TO SET IT DOWN", "HOW LONG"):
        assert headline in result.stdout


def test_the_picture_goes_where_it_is_wanted(tmp_path, monkeypatch, gratemap):
    monkeypatch.chdir(tmp_path)
    result = gratemap("demo", "--picture", "mine.png")
    assert result.stdout.endswith("Picture: mine.png\n")
    assert [path.name for path in tmp_path.iterdir()] == ["mine.png"]
    assert Path("mine.png").read_bytes().startswith(PNG)
