"""The manual: every topic is there, every command is in it, and every example runs on the sample readings."""

from __future__ import annotations

import html
import re
import shlex
from pathlib import Path

import pytest
from typer.main import get_command

from cli.app import app
from cli.manual import TOPICS, text

MANUAL = Path(__file__).parents[2] / "cli" / "manual"


def examples() -> list[tuple[str, tuple[str, ...]]]:
    """Return the command lines of every sh block, with their topic."""
    return [
        (topic, tuple(block.strip().splitlines()))
        for topic in TOPICS
        for block in re.findall(r"```sh\n(.*?)```", text(topic), re.DOTALL)
    ]


def run(gratemap, line: str):
    """Run a line as a shell would: `gratemap …`, or `printf '…' | gratemap …`."""
    typed, bar, command = line.rpartition(" | ")
    words = shlex.split(command)
    assert words[0] == "gratemap"
    return gratemap(*words[1:], typed=shlex.split(typed)[1].replace("\\n", "\n") if bar else None)


def test_every_page_is_a_topic_and_every_topic_a_page():
    assert {path.stem for path in MANUAL.glob("*.md")} == set(TOPICS)


@pytest.mark.parametrize("topic", TOPICS)
def test_a_topic_is_printed_with_its_heading_first_and_fits_a_wide_screen(gratemap, topic):
    result = gratemap("manual", topic)
    assert result.exit_code == 0
    assert result.stdout.startswith("# ")
    assert max(map(len, result.stdout.splitlines())) <= 140


def test_the_list_names_every_topic(gratemap):
    listed = gratemap("manual").stdout
    assert all(f"  {topic} " in listed for topic in TOPICS)


def test_every_command_is_in_the_manual():
    everything = "".join(text(topic) for topic in TOPICS)
    for name in get_command(app).list_commands(None):
        assert re.search(rf"gratemap {name}\b", everything), f"{name} is not in the manual"


@pytest.mark.parametrize(("topic", "lines"), examples(), ids=lambda value: str(value)[:60])
def test_the_examples_run_on_the_sample_readings(samples, gratemap, topic, lines):
    for line in lines:
        result = run(gratemap, line)
        assert result.exit_code == 0, result.output


def test_an_unknown_topic_is_one_line(gratemap):
    result = gratemap("manual", "nonsense")
    assert result.exit_code == 3
    assert "topics: course" in result.stderr
    assert result.stderr.count("\n") == 1


def test_the_blank_sheet_has_every_position(samples, gratemap):
    sheet = gratemap("manual", "sheet").stdout
    rows = [line.split()[0] for line in sheet.splitlines() if line.startswith("  ") and "______" in line]
    assert rows == ["A", "B", "C"]
    assert sheet.count("______        ") >= 9
    assert gratemap("manual", "sheet", "--page", "sheet.html").exit_code == 0
    page = Path("sheet.html").read_text(encoding="utf-8")
    assert "<script" not in page and html.unescape(page).count("______        ") >= 9
    assert gratemap("manual", "sheet", "--page", "sheet.html").exit_code == 0, "over an earlier one"
    assert gratemap("manual", "take", "--page", "take.html").exit_code == 3 and not Path("take.html").exists()
    refused = gratemap("manual", "sheet", "--page", "readings.csv")
    assert refused.exit_code == 3 and "never written over" in refused.stderr
