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
INTERACTIVE = {"take", "grill new", "rehearse"}


@pytest.mark.parametrize("name", HELP)
def test_help_starts_with_a_verb_and_gives_one_example(name):
    text = HELP[name]
    assert text[0].isupper()
    assert not text.split()[0].endswith("s")  # "Show …", not "Shows …"
    assert len(re.findall(r"^Example: gratemap ", text, re.MULTILINE)) == 1


@pytest.mark.parametrize("name", sorted(set(HELP) - INTERACTIVE))
def test_the_example_of_the_help_runs_on_the_sample_readings(samples, gratemap, name):
    example = HELP[name].split("Example: gratemap ")[1]
    result = gratemap(*shlex.split(example))
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
OF_THEIR_OWN = {("take", "--round"), ("take", "--readings"), ("gun", "--distance"), ("rehearse", "--overwrite")}


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
    shared = ("--grill", "--readings", "--round", "--picture", "--json", "--skip-bad", "--check")
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
HEAVY = ("numpy", "scipy", "scipy.linalg", "scipy.special", "scipy.optimize", "matplotlib", "jinja2", "serial")


@pytest.mark.parametrize(
    ("words", "needed"),
    [
        ("--help", set()),
        ("--version", set()),
        ("map --help", set()),
        ("take --help", set()),
        ("manual", set()),
        ("manual map", set()),
        ("manual sheet", set()),
        ("grill check", set()),
        ("ports", {"serial"}),
        ("gun 575 --emissivity 0.9", {"numpy"}),
        ("history", {"numpy"}),
        ("map", {"numpy"}),
        ("sear --target 137", {"numpy"}),
        ("ready --target 137", {"numpy"}),
        ("burners", {"numpy", "scipy", "scipy.linalg"}),
        ("compare", {"numpy", "scipy", "scipy.linalg"}),
    ],
)
def test_a_command_loads_no_more_than_it_needs(samples, words, needed):
    code = (
        "import sys\nfrom cli.app import app\n"
        f"try: app({words.split()!r})\nexcept SystemExit as end: assert not end.code, end.code\n"
        f"print('loaded', *(name for name in {HEAVY!r} if name in sys.modules), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=samples)
    assert done.returncode == 0, done.stderr
    assert set(done.stderr.splitlines()[-1].split()) - {"loaded"} == needed


LONG = ["--help", "map", "map --json --surface", "history", "burners --why", "compare", "sear --target 137", "demo"]
LONG += ["manual take", "manual sheet", "take --help"]


@pytest.mark.parametrize("words", LONG)
@pytest.mark.parametrize("first", [0, 1])
def test_a_reader_that_leaves_early_is_no_error(samples, words, first):
    """A real pipe whose reader takes nothing, or one byte as `head -c 1` does, and goes."""
    reading, writing = os.pipe()
    code = "from cli.app import app; app()"
    done = subprocess.Popen(
        [sys.executable, "-c", code, *words.split()], cwd=samples, stdout=writing, stderr=subprocess.PIPE, text=True
    )
    os.close(writing)
    os.read(reading, first)
    os.close(reading)
    _, said = done.communicate(timeout=60)
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
