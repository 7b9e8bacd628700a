"""The help as a stranger reads it: every command has one, verb first, with an example that runs."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from typing import Any

import pytest
from typer.main import get_command

from cli.app import app
from cli.exit_codes import ExitCode
from cli.manual import TOPICS, text
from started import PIPE, Started


def commands() -> dict[str, Any]:
    """Return every command, by its words."""
    found = {}
    group = get_command(app)
    for name in group.list_commands(None):
        command = group.get_command(None, name)
        for inner, subcommand in getattr(command, "commands", {"": command}).items():
            found[f"{name} {inner}".strip()] = subcommand
    return found


COMMANDS = commands()
HELP = {name: command.help for name, command in COMMANDS.items()}
#: These wait for a person, or for a device, and are played in tests of their own.
INTERACTIVE = {"take", "grill new", "rehearse", "page"}


@pytest.mark.parametrize("name", HELP)
def test_help_starts_with_a_verb_and_gives_one_example(name):
    said = HELP[name]
    assert said[0].isupper()
    assert not said.split()[0].endswith("s")  # "Show …", not "Shows …"
    assert len(re.findall(r"^Example: gratemap ", said, re.MULTILINE)) == 1


def examples() -> list[str]:
    """Return the examples of all helps but those that the manual gives too: those run in test_manual.py."""
    of_the_manual = "".join(text(topic) for topic in TOPICS)
    found = [HELP[name].split("Example: ")[1] for name in sorted(set(HELP) - INTERACTIVE)]
    return [example for example in found if f"\n{example}\n" not in of_the_manual]


@pytest.mark.parametrize("example", examples())
def test_the_example_of_the_help_runs_on_the_sample_readings(samples, gratemap, example):
    result = gratemap(*shlex.split(example)[1:])
    assert result.exit_code == 0, result.output


@pytest.mark.parametrize("name", HELP)
def test_help_is_printed_plain_and_fits_the_screen(gratemap, name):
    result = gratemap(*name.split(), "--help")
    assert result.exit_code == 0
    assert "Usage: " in result.stdout
    assert max(map(len, result.stdout.splitlines())) <= 80
    example = HELP[name].splitlines()[-1]
    assert f"  {example}\n" in result.stdout  # on one line, so that it can be copied


#: The same name, but not the same thing: a round to be taken, a file that is written, a distance of another tool.
OF_THEIR_OWN = {
    ("take", "--round"),
    ("take", "--readings"),
    ("page", "--readings"),
    ("page", "--port"),
    ("gun", "--distance"),
    ("rehearse", "--overwrite"),
    ("manual", "--page"),
}


def test_an_option_of_one_name_is_one_thing_in_all_commands():
    found: dict[str, dict[tuple, list[str]]] = {}
    for name, command in COMMANDS.items():
        for parameter in command.params:
            option = parameter.opts[0]
            if option.startswith("--") and (name, option) not in OF_THEIR_OWN:
                words = parameter.help.split()[0] if option == "--picture" else parameter.help
                found.setdefault(option, {}).setdefault((words, parameter.metavar), []).append(name)
    assert {option: meanings for option, meanings in found.items() if len(meanings) > 1} == {}


def test_every_value_has_a_name_a_cook_understands(gratemap):
    for name in HELP:
        options = gratemap(*name.split(), "--help").stdout.split("\nOptions:\n")[1]
        assert re.findall(r"--\S+ <\w+>", options) == [], name  # not <float>, <str>


def test_options_of_the_command_itself_come_before_those_all_commands_share():
    shared = ("--grill", "--readings", "--skip-bad", "--round", "--picture", "--force", "--json", "--check")
    for name, command in COMMANDS.items():
        order = [parameter.opts[0] for parameter in command.params if parameter.opts[0] in shared]
        if name != "take":  # its --round is one of its own
            assert order == sorted(order, key=shared.index), name


def test_version(gratemap):
    assert re.fullmatch(r"gratemap \d+\.\d+\.\d+\n", gratemap("--version").stdout)


def test_exit_codes_are_these_numbers():
    assert {code.name: int(code) for code in ExitCode} == {
        "FINE": 0,
        "BUG": 1,
        "USAGE": 2,
        "INPUT": 3,
        "PORT": 4,
        "ANSWER_IS_NO": 5,
        "INTERRUPTED": 130,
    }


#: What takes long to load, and what only some commands need.
HEAVY = (
    "numpy",
    "scipy",
    "scipy.linalg",
    "scipy.special",
    "scipy.optimize",
    "matplotlib",
    "jinja2",
    "serial",
    "starlette",
    "uvicorn",
)


#: Commands that need the same, run one after the other in one process; told after each is what is loaded by then.
ALIKE = {
    (): ["--help", "--version", "map --help", "take --help", "manual", "manual map", "manual sheet", "grill check"],
    ("serial",): ["ports"],
    ("numpy",): [
        "gun 575 --emissivity 0.9",
        "history",
        "map",
        "sear --target 137",
        "ready --target 137",
        "burners",
        "compare",
    ],
}


@pytest.mark.parametrize(("needed", "lines"), ALIKE.items(), ids=lambda value: "+".join(value)[:20])
def test_a_command_loads_no_more_than_it_needs(samples, needed, lines):
    code = (
        f"import sys\nfrom cli.app import app\nfor words in {lines!r}:\n"
        " try: app(words.split())\n except SystemExit as end: assert not end.code, (words, end.code)\n"
        f" print('loaded', [name for name in {HEAVY!r} if name in sys.modules], words, file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=samples)
    assert done.returncode == 0, done.stderr
    told = [line for line in done.stderr.splitlines() if line.startswith("loaded ")]
    assert told == [f"loaded {list(needed)} {words}" for words in lines]


#: One of each way an answer is written: help, words line by line, one long object, with a picture, a page of text.
LONG = ["--help", "history", "map --json --surface", "demo", "manual take"]


@pytest.mark.parametrize("words", LONG)
@pytest.mark.parametrize("first", [0, 1])
def test_a_reader_that_leaves_early_is_no_error(samples, words, first):
    """A real pipe whose reader takes nothing, or one byte as `head -c 1` does, and goes."""
    reading, writing = os.pipe()
    done = Started(*words.split(), cwd=samples, stdout=writing, stderr=PIPE, text=True)
    os.close(writing)
    os.read(reading, first)
    os.close(reading)
    _, said = done.communicate()
    assert done.returncode == 0, said
    assert "Traceback" not in said
    assert "Exception" not in said
    assert "Broken pipe" not in said


def test_check_answers_though_the_reader_has_left(samples):
    shell = f"'{sys.executable}' -c 'from cli.app import app; app()' map --check | true; exit ${{PIPESTATUS[0]}}"
    done = subprocess.run(["bash", "-c", shell], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (ExitCode.ANSWER_IS_NO, "")


def test_an_error_keeps_its_code_though_nobody_listens(samples):
    shell = (
        f"'{sys.executable}' -c 'from cli.app import app; app()' map --round 99 2>&1 | true; exit ${{PIPESTATUS[0]}}"
    )
    assert subprocess.run(["bash", "-c", shell], check=False).returncode == ExitCode.INPUT
