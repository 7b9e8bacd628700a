"""Files that options name to write to: readings and grills are never written over, other files only with --force."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest
from typer.main import get_command

from cli.app import app

#: Every option that names a file to write, by the words of its command, with the name an output of it may have.
OUTPUTS = {
    "map --picture": "out.png",
    "map --grid": "out.csv",
    "burners --picture": "out.svg",
    "compare --picture": "out.png",
    "place --picture": "out.png",
    "report --output": "out.html",
    "demo --picture": "out.png",
    "manual sheet --page": "out.html",
}
#: Logs and grill files as people have them; none of these is ever written over.
PRECIOUS = {
    "the log": b"position,shown_f\nA1,575\n",
    "a log with decimal commas, quoted": b'"session";"shown_c";"position"\r\n;301,5;A1\r\n',
    "a log with tabs below a remark": b"# Saturday\n\nposition\tshown_f\tnote\nA1\t575\t\n",
    "a log of an old computer": b"# Saturday\rshown_f,position\r575,A1\r",
    "a log in UTF-16": "position,shown_f\nA1,575\n".encode("utf-16"),
    "a log with a mark in front": b"\xef\xbb\xbfshown_f,position\n575,A1\n",
    "a log that lost its first bytes": b"ition,x_in,shown_f,note\nA1,,575,\n",
    "what sears taught": b"taken_at,place,turns_s,outcome\n2031-06-14T12:00:00Z,B2,75,right\n",
    "a grill": b"[grate]\nwidth = 24\ndepth = 18\n[target]\nlow = 550\nhigh = 600\n",
    "a grill written another way": b"grate = {width = 24, depth = 18}\ntarget.low = 550\ntarget.high = 600\n",
    "a broken grill": b"# mine\n[[burner]]\nname = left\n",
}
#: What is neither: replaced only with --force.
FOREIGN = {
    "a photo": b"\x89PNG\r\n\x1a\n" + b"\0" * 400,
    "a page": b"<!DOCTYPE html>\n<html><head><title>mine</title></head></html>\n",
    "a letter": b"Dear all,\nthe grate is fine.\n",
    "a table": b"x,y,mean\n1,2,3\n",
}


@pytest.fixture
def folder(samples: Path) -> Path:
    (samples / "practice").mkdir()
    return samples


def outcome(gratemap, option: str, name: str, *more: str):
    result = gratemap(*option.split(), name, *more, typed="end\n")
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def every_file_option() -> set[str]:
    found = set()
    group = get_command(app)
    for name in group.list_commands(None):
        command = group.get_command(None, name)
        for inner, one in getattr(command, "commands", {"": command}).items():
            found |= {
                f"{name} {inner}".strip() + f" {parameter.opts[0]}"
                for parameter in one.params
                if "FILE" in str(parameter.metavar) and parameter.opts[0] not in ("--grill", "--readings")
            }
    return found


def test_no_option_that_writes_is_left_out_of_these_tests():
    known = {f"{option.split()[0]} {option.split()[-1]}" for option in OUTPUTS}
    assert every_file_option() == known | {"grill new path"}  # which has tests of its own, below


@pytest.mark.parametrize("option", OUTPUTS)
@pytest.mark.parametrize("force", [(), ("--force",)], ids=["", "force"])
def test_readings_and_grills_are_never_written_over(folder, gratemap, option, force):
    ending = Path(OUTPUTS[option]).suffix
    for what, content in PRECIOUS.items():
        name = f"mine{ending}"
        Path(name).write_bytes(content)
        result = outcome(gratemap, option, name, *force)
        assert (result.exit_code, result.stdout) == (3, ""), what
        kind = "a grill file" if "grill" in what else "readings"
        assert result.stderr == f"gratemap: {name} holds {kind} and is never written over; name another file\n", what
        assert Path(name).read_bytes() == content, what


@pytest.mark.parametrize("option", OUTPUTS)
@pytest.mark.parametrize("target", ["grill.toml", "readings.csv"])
@pytest.mark.parametrize("way", ["as it is", "symbolic link", "hard link"])
def test_the_two_files_are_found_by_whatever_name(folder, gratemap, option, target, way):
    before = Path(target).read_bytes()
    name = f"other{Path(OUTPUTS[option]).suffix}"
    if way == "as it is":
        name = target if Path(OUTPUTS[option]).suffix not in (".png", ".svg") else f"./{target}"
    elif way == "symbolic link":
        Path(name).symlink_to(target)
    else:
        os.link(target, name)
    result = outcome(gratemap, option, name, "--force")
    assert (result.exit_code, result.stdout) == (3, "")
    assert result.stderr.count("\n") == 1
    assert Path(target).read_bytes() == before


@pytest.mark.parametrize("option", ["map --grid", "report --output"])
def test_a_named_log_is_known_by_its_name_also_while_it_is_empty(folder, gratemap, option):
    Path("new.csv").write_bytes(b"")
    result = outcome(gratemap, option, "new.csv", "--readings", "new.csv", "--force")
    assert result.stderr.startswith("gratemap: new.csv is the readings file and is never written over")
    assert Path("new.csv").read_bytes() == b""
    assert result.exit_code == 3
    Path("grill.toml").rename("other.toml")
    result = outcome(gratemap, option, "other.toml", "--grill", "other.toml", "--force")
    assert result.stderr.startswith("gratemap: other.toml is the grill file and is never written over")
    assert result.exit_code == 3


@pytest.mark.parametrize("option", ["map --picture", "map --grid", "report --output"])
def test_other_files_are_replaced_only_with_force_and_an_earlier_output_without(folder, gratemap, option):
    name = OUTPUTS[option]
    for what, content in FOREIGN.items():
        Path(name).write_bytes(content)
        refused = outcome(gratemap, option, name)
        assert (refused.exit_code, refused.stdout, refused.stderr.count("\n")) == (3, "", 1), what
        assert refused.stderr.startswith(f"gratemap: {name} is no ") and "--force" in refused.stderr, what
        assert Path(name).read_bytes() == content, what
    assert outcome(gratemap, option, name, "--force").exit_code == 0
    written = Path(name).read_bytes()
    assert len(written) > 100 and written not in FOREIGN.values()
    again = outcome(gratemap, option, name)
    assert again.exit_code == 0, again.stderr
    Path(name).write_bytes(b"")  # as mktemp makes it
    assert outcome(gratemap, option, name).exit_code == 0


def test_one_kind_of_output_does_not_replace_another(folder, gratemap):
    assert outcome(gratemap, "map --grid", "out.html").exit_code == 0
    refused = outcome(gratemap, "report --output", "out.html")
    assert refused.exit_code == 3
    assert refused.stderr.startswith("gratemap: out.html is no report of gratemap; name another file, or replace it")


def test_a_link_is_written_through_and_modes_are_kept(folder, gratemap):
    assert outcome(gratemap, "map --grid", "real.csv").exit_code == 0
    Path("real.csv").chmod(0o640)
    Path("link.csv").symlink_to("real.csv")
    Path("real.csv").write_bytes(Path("real.csv").read_bytes()[:60])
    assert outcome(gratemap, "map --grid", "link.csv").exit_code == 0
    assert Path("link.csv").is_symlink() and Path("real.csv").stat().st_size > 1000
    assert Path("real.csv").stat().st_mode & 0o777 == 0o640
    assert not [path for path in folder.iterdir() if "unfinished" in path.name]


def test_a_new_file_has_the_modes_of_any_new_file(folder, gratemap):
    before = os.umask(0o027)
    try:
        assert outcome(gratemap, "map --grid", "new.csv").exit_code == 0
    finally:
        os.umask(before)
    assert Path("new.csv").stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize("there", [False, True])
@pytest.mark.parametrize("option", ["map --grid", "report --output"])
def test_a_file_that_cannot_be_written_whole_leaves_what_was_there(folder, gratemap, option, there, monkeypatch):
    """A file size limit of 500 bytes (setrlimit(2), RLIMIT_FSIZE) stands for the full disk."""
    name = OUTPUTS[option]
    if there:
        assert outcome(gratemap, option, name).exit_code == 0
    before = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    resource = pytest.importorskip("resource")
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    monkeypatch.setattr(sys, "dont_write_bytecode", True)  # else a module read in meanwhile is kept cut short
    resource.setrlimit(resource.RLIMIT_FSIZE, (500, limits[1]))
    try:
        done = outcome(gratemap, option, name)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert done.exit_code == 3, done.stderr
    assert done.stderr.splitlines()[-1].startswith(f"gratemap: {name}: cannot be written: the file is as large")
    assert {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()} == before


def test_a_new_grill_is_never_written_over_readings(folder, gratemap):
    before = Path("readings.csv").read_bytes()
    result = gratemap("grill", "new", "readings.csv", "--overwrite", typed="\n" * 20)
    assert (result.exit_code, result.stdout) == (3, "")
    assert result.stderr == "gratemap: readings.csv holds readings and is never written over; name another file\n"
    assert Path("readings.csv").read_bytes() == before


def test_what_becomes_a_log_during_the_work_is_not_written_over(folder, gratemap, monkeypatch):
    from heatmap.report import documents

    real = documents.grid_csv

    def meanwhile(assessment):
        Path("out.csv").write_bytes(PRECIOUS["the log"])
        return real(assessment)

    monkeypatch.setattr(documents, "grid_csv", meanwhile)
    result = outcome(gratemap, "map --grid", "out.csv")
    assert result.exit_code == 3
    assert Path("out.csv").read_bytes() == PRECIOUS["the log"]
