"""The list of packages is complete: what is not named is not in the wheel."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
PACKAGES = PROJECT["tool"]["setuptools"]["packages"]
FOLDERS = PROJECT["tool"]["setuptools"]["package-dir"]


def test_every_package_is_named() -> None:
    here = {
        ".".join(path.parent.relative_to(ROOT).parts)
        for top in ("heatmap", "cli")
        for path in (ROOT / top).rglob("__init__.py")
    }
    named = {name for name in PACKAGES if name not in FOLDERS}
    assert here - named == set(), "add these to [tool.setuptools] packages in pyproject.toml"
    assert named - here == set(), "these are named in pyproject.toml and not there"
    assert len(set(PACKAGES)) == len(PACKAGES)


def test_every_folder_with_python_is_a_package() -> None:
    for top in ("heatmap", "cli"):
        for path in (ROOT / top).rglob("*.py"):
            assert (path.parent / "__init__.py").exists(), f"{path.parent} has no __init__.py"


def test_moved_folders_are_there() -> None:
    for name, folder in FOLDERS.items():
        assert name in PACKAGES
        assert (ROOT / folder).is_dir()
        assert any((ROOT / folder).iterdir())


def test_data_patterns_find_something() -> None:
    for name, patterns in PROJECT["tool"]["setuptools"]["package-data"].items():
        folder = ROOT / FOLDERS.get(name, name.replace(".", "/"))
        for pattern in patterns:
            assert list(folder.glob(pattern)), f"{name}: {pattern} finds nothing"


def test_all_data_files_are_in_a_pattern() -> None:
    """A manual page or a sample that no pattern covers would be missing from the wheel."""
    data = PROJECT["tool"]["setuptools"]["package-data"]
    for name in PACKAGES:
        folder = ROOT / FOLDERS.get(name, name.replace(".", "/"))
        covered = {path for pattern in data.get(name, []) for path in folder.glob(pattern)}
        for path in folder.iterdir():
            if path.is_file() and path.suffix not in (".py", ".pyc") and not path.name.startswith("."):
                assert path in covered, f"{path.relative_to(ROOT)} is in no package-data pattern"


def test_the_command_and_what_it_needs() -> None:
    project = PROJECT["project"]
    assert project["scripts"] == {"gratemap": "cli.app:app"}
    assert project["license"] == "BSD-3-Clause"
    for requirement in project["dependencies"]:
        assert re.fullmatch(r"[a-z0-9-]+>=[0-9.]+", requirement), f"{requirement}: give the oldest version that works"


@pytest.mark.parametrize("top", ["heatmap", "cli", "tests", "sample_readings", "README.md", "DEVELOPERS.md", "LICENSE"])
def test_the_top_level(top: str) -> None:
    assert (ROOT / top).exists()


def test_nothing_else_at_the_top_level() -> None:
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "LICENSE",
        "heatmap",
        "cli",
        "tests",
        "sample_readings",
    }
    built = {"build", "dist"}
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert {name for name in found - allowed - built if not name.endswith(".egg-info")} == set()
