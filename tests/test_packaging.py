"""What is packed: everything, from the source archive to the command in somebody else's folder."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tarfile
import tomllib
import venv
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
WHEEL = PROJECT["tool"]["hatch"]["build"]["targets"]["wheel"]
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "LICENSE",
    "heatmap",
    "cli",
    "tests",
    "sample_readings",
}


def test_every_folder_with_python_is_a_package() -> None:
    for top in WHEEL["packages"]:
        for path in (ROOT / top).rglob("*.py"):
            assert (path.parent / "__init__.py").exists(), f"{path.parent} has no __init__.py"


def test_the_samples_lie_in_the_wheel_where_the_command_looks() -> None:
    from cli.demo import samples

    assert set(WHEEL["packages"]) == {"heatmap", "cli"}
    assert WHEEL["force-include"] == {"sample_readings": "cli/sample_readings"}
    assert {path.name for path in samples().iterdir()} >= {"grill.toml", "readings.csv"}


def test_the_command_and_what_it_needs() -> None:
    project = PROJECT["project"]
    assert project["scripts"] == {"gratemap": "cli.start:main"}
    assert project["license"] == "BSD-3-Clause"
    for requirement in project["dependencies"]:
        oldest = re.fullmatch(r"[a-z0-9-]+>=[0-9.]+(,<[0-9.]+)?", requirement)
        assert oldest, f"{requirement}: give the oldest version that works"


def test_the_top_level_holds_these_and_nothing_else() -> None:
    """What git keeps: a file of one's own in the folder is nobody's business."""
    found = {name.partition("/")[0] for name in _kept_by_git()}
    assert {name for name in found if not name.startswith(".")} == TOP_LEVEL


def test_the_top_level_is_all_there() -> None:
    """Outside a checkout too, where nobody knows what else was put in the folder."""
    assert {path.name for path in ROOT.iterdir()} >= TOP_LEVEL


def _kept_by_git() -> set[str]:
    if not (ROOT / ".git").exists() or shutil.which("git") is None:
        pytest.skip("not in a checkout")
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True)
    if listed.returncode:
        pytest.skip(f"git does not say what it keeps: {listed.stderr.decode().strip()}")
    return {name for name in listed.stdout.decode().split("\0") if name and (ROOT / name).exists()}


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Return the source archive and the wheel made from it, both from a copy of what git keeps."""
    folder = tmp_path_factory.mktemp("built")
    for name in _kept_by_git():
        target = folder / "source" / name
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / name, target)
    maker = _empty_environment(folder / "maker", "build")
    subprocess.run([maker / "python", "-m", "build", "--outdir", folder / "dist", folder / "source"], check=True)
    return next((folder / "dist").glob("*.tar.gz")), next((folder / "dist").glob("*.whl"))


def _empty_environment(folder: Path, *install: str | Path) -> Path:
    """Return the folder of the commands of a new environment with these packages and what they need."""
    venv.create(folder, with_pip=True)
    commands = folder / ("Scripts" if os.name == "nt" else "bin")
    subprocess.run([commands / "python", "-m", "pip", "install", "--quiet", *install], check=True)
    return commands


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_the_source_archive_holds_all_that_git_keeps(built) -> None:
    with tarfile.open(built[0]) as archive:
        packed = {name.partition("/")[2] for name in archive.getnames()}
    assert packed - {"PKG-INFO"} == _kept_by_git()


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_the_wheel_holds_the_two_packages_the_samples_and_the_licence(built) -> None:
    with zipfile.ZipFile(built[1]) as archive:
        packed = {name for name in archive.namelist() if ".dist-info/" not in name}
        assert any(name.endswith(".dist-info/licenses/LICENSE") for name in archive.namelist())
    kept = _kept_by_git()
    assert packed == {name for name in kept if name.startswith(("heatmap/", "cli/"))} | {
        f"cli/{name}" for name in kept if name.startswith("sample_readings/")
    }


@pytest.fixture(scope="module")
def installed(built, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the installed command, from the wheel in an empty environment far from the project."""
    return _empty_environment(tmp_path_factory.mktemp("installed"), built[1]) / "gratemap"


@pytest.fixture
def elsewhere(installed: Path, samples: Path) -> Callable[..., str]:
    """Return a function that runs the installed command beside the samples; it returns what came to stdout."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}

    def run(*words: str, typed: str = "") -> str:
        done = subprocess.run(
            [installed, *words],
            cwd=samples,
            env={**environment, "PYTHONUTF8": "1"},
            input=typed,
            capture_output=True,
            encoding="utf-8",
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    return run


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_the_installed_command_works_in_another_folder(elsewhere, samples: Path) -> None:
    assert elsewhere("--version") == f"gratemap {PROJECT['project']['version']}\n"
    told = elsewhere("demo")
    picture = Path(told.rpartition("Picture: ")[2].strip())
    assert picture.read_bytes().startswith(b"\x89PNG") and picture.parent != samples
    picture.unlink()
    assert "in band" in elsewhere("map")
    elsewhere("report")
    assert "</html>" in (samples / "gratemap-report.html").read_text(encoding="utf-8")
    assert "emissivity" in elsewhere("manual", "physics")
    assert "Make-believe grill 3" in elsewhere("rehearse", "--seed", "3", typed="end\n")
    assert (samples / "rehearsal-3" / "readings.csv").exists()
