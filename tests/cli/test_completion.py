"""Completion of commands and options by the shell, in a real bash."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

#: The command as a shell finds it, without an installed script.
SCRIPT = "#!{python}\nfrom cli.app import app\napp(prog_name='gratemap')\n"
ALL = "demo grill take ready map explain next burners compare history place sear gun report page rehearse ports manual"

pytestmark = pytest.mark.skipif(shutil.which("bash") is None, reason="there is no bash here")


@pytest.fixture(scope="module")
def bash(tmp_path_factory):
    """Return a function that runs lines in a bash that finds `gratemap`, in a home of its own."""
    home = tmp_path_factory.mktemp("home")
    command = home / "bin" / "gratemap"
    command.parent.mkdir()
    command.write_text(SCRIPT.format(python=sys.executable), encoding="utf-8")
    command.chmod(0o755)
    root = Path(__file__).parents[2]
    environment = {
        **os.environ,
        "PATH": f"{command.parent}{os.pathsep}{os.environ['PATH']}",
        "PYTHONPATH": f"{root}{os.pathsep}{os.environ.get('PYTHONPATH', '')}",
        "HOME": str(home),
        "SHELL": shutil.which("bash") or "bash",
    }

    def run(lines: str) -> str:
        # With a line after them bash stays their parent, by which a command asked for completion knows its shell.
        asked = ["bash", "--norc", "-e", "-c", f"{lines}\n:"]
        done = subprocess.run(asked, capture_output=True, text=True, env=environment, cwd=home, check=True)
        assert done.stderr == ""
        return done.stdout

    return run


@pytest.fixture(scope="module")
def completed(bash):
    """Return a function that tells what bash would offer at the end of a line, through the function the command itself
    hands out.
    """
    handed_out = bash("gratemap --show-completion bash")

    def offered(line: str) -> list[str]:
        words = " ".join(f"'{word}'" for word in line.split(" "))
        return bash(
            f"{handed_out}\nCOMP_WORDS=({words}); COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1)); "
            '_gratemap_completion gratemap; printf "%s\\n" "${COMPREPLY[@]}"'
        ).split()

    return offered


def test_commands_are_listed(completed):
    assert completed("gratemap ") == ALL.split()
    assert completed("gratemap ma") == ["map", "manual"]
    assert completed("gratemap grill ") == ["new", "check"]


def test_options_are_listed(completed):
    assert {"--round", "--picture", "--json"} <= set(completed("gratemap map --"))
    assert completed("gratemap sear --t") == ["--target", "--thickness", "--turns", "--tested"]


def test_topics_of_the_manual_are_listed(completed):
    assert completed("gratemap manual c") == ["course", "compare", "conventions", "cautions", "changes"]
    assert "sheet" in completed("gratemap manual ")


def test_a_picture_named_before_is_no_hindrance(completed):
    assert completed("gratemap map --picture map.xyz --ski") == ["--skip-bad"]


def test_it_can_be_installed(bash):
    bash("gratemap --install-completion bash && true")  # with more to do bash stays: the shell that is looked for
    assert bash(". ~/.bashrc; complete -p gratemap") == "complete -o default -F _gratemap_completion gratemap\n"


def test_completing_loads_nothing_heavy_and_is_quick():
    code = (
        "import sys; from cli.app import app\n"
        "try: app(prog_name='gratemap')\n"
        "except SystemExit: pass\n"
        "print([m for m in ('numpy', 'scipy', 'matplotlib', 'serial') if m in sys.modules], file=sys.stderr)"
    )
    environment = {
        **os.environ, "_GRATEMAP_COMPLETE": "complete_bash", "COMP_WORDS": "gratemap map --", "COMP_CWORD": "2"
    }  # fmt: skip
    start = time.monotonic()
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=environment, check=True)
    assert done.stderr.strip() == "[]"
    assert "--picture" in done.stdout
    assert time.monotonic() - start < 5.0  # some 0.3 s on an idle machine; a hang is what this finds
