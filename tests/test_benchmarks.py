"""The benchmarks run, print a table and write JSON. What they measure is not judged here."""

from __future__ import annotations

import importlib
import json
import platform
import subprocess
import sys
from pathlib import Path

import pytest

from cli.commands import COMMANDS

BENCHMARKS = Path(__file__).parent / "benchmarks"
#: What the scripts share; not benchmarks themselves.
SHARED = {"run", "table", "child", "other_grills"}


@pytest.fixture
def imported(monkeypatch: pytest.MonkeyPatch):
    """Return a function that imports a script as if it were run from its folder, and forgets it afterwards."""
    pytest.importorskip("resource", reason="the benchmarks ask a POSIX system what a process used")
    monkeypatch.syspath_prepend(str(BENCHMARKS))
    for path in BENCHMARKS.glob("*.py"):
        monkeypatch.delitem(sys.modules, path.stem, raising=False)
    yield importlib.import_module
    for path in BENCHMARKS.glob("*.py"):
        sys.modules.pop(path.stem, None)


def test_every_script_is_run(imported):
    assert {path.stem for path in BENCHMARKS.glob("*.py")} - SHARED == set(imported("run").BENCHMARKS)


def test_every_script_can_be_imported(imported):
    """A name that a benchmark takes from the library is still there."""
    for path in BENCHMARKS.glob("*.py"):
        imported(path.stem)


def test_start_up_measures_every_command(imported):
    measured = {case.words.split()[0] for case in imported("start_up").CASES}
    assert measured == {*COMMANDS, "--help"}


def test_one_broken_benchmark_does_not_lose_the_others(imported, monkeypatch, tmp_path, capsys):
    run, row = imported("run"), imported("table").Row

    def broken(quick):
        raise ValueError("no such grill")

    quick_told = []
    good = row(what="a thing", size="3 of it", value=2.0, unit="s", against="another", other=4.0, limit="at most 1")
    table = {"one": broken, "two": lambda quick: quick_told.append(quick) or [good]}
    monkeypatch.setattr(run, "BENCHMARKS", table)
    assert run.main(["--quick", "--json", str(tmp_path / "out.json")]) == 1
    printed = capsys.readouterr().out
    assert "broken: one: ValueError: no such grill" in printed
    assert "a thing  3 of it  2.00 s  another  4.00 s  0.500  at most 1" in printed
    written = json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))
    assert quick_told == [True] and written["quick"] is True
    assert written["broken"] == {"one": "ValueError: no such grill"}
    assert [(found["benchmark"], found["value"], found["ratio"]) for found in written["rows"]] == [("two", 2.0, 0.5)]


def test_one_broken_command_does_not_lose_the_others(imported, monkeypatch, tmp_path, capsys):
    start_up, run = imported("start_up"), imported("run")
    cases = (start_up.Case("no-such-command"), start_up.Case("--help", "typer"))
    monkeypatch.setattr(start_up, "CASES", cases)
    assert run.main(["--only", "start_up", "--quick", "--json", str(tmp_path / "out.json")]) == 1
    written = json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))
    assert [row["value"] is None for row in written["rows"]] == [True, False]
    assert list(written["broken"]) == ["start_up: gratemap no-such-command"]
    assert "broken: start_up: gratemap no-such-command" in capsys.readouterr().out


def test_a_row_without_the_other_has_no_ratio_and_what_is_not_finite_is_null(imported):
    table = imported("table")
    row = table.Row(what="a", size="1", value=3.0, unit="s", other=0.0, also={"cover": (float("nan"), 0.5)})
    assert row.ratio is None
    assert table.document(row)["also"] == {"cover": [None, 0.5]}


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.0123456, "s", "0.0123 s"),
        (0.123456, "s", "0.123 s"),
        (43.21, "ms", "43.2 ms"),
        (224_790.4, "a second", "224,790 a second"),
        (0.0, "1", "0"),
        (None, "s", ""),
        (float("nan"), "1", ""),
    ],
)
def test_three_digits_that_count(imported, value, unit, text):
    assert imported("table").number(value, unit) == text


def test_growth_is_the_exponent_of_a_power_law(imported):
    rows = imported("table").grows("a thing", "readings", {10: 2.0, 100: 2.0e2, 1000: 2.0e5})
    assert [row.value for row in rows] == pytest.approx([2.0, 3.0])
    assert [row.size for row in rows] == ["10 to 100 readings", "100 to 1,000 readings"]


def test_a_process_tells_its_own_memory_and_time_not_ours(imported):
    run = imported("child").run
    mine = bytearray(200 * 2**20)
    small = run([sys.executable, "-I", "-S", "-c", "print('hello')"])
    large = run([sys.executable, "-I", "-S", "-c", "x = bytearray(100 * 2**20)\nfor n in range(3_000_000): pass"])
    assert small.peak_mib < 100 <= large.peak_mib < 200 <= len(mine) / 2**20
    assert large.processor_s > small.processor_s
    with pytest.raises(RuntimeError, match="no luck"):
        run([sys.executable, "-c", "raise SystemExit('no luck')"])


def test_a_benchmark_really_runs_from_the_command(tmp_path):
    pytest.importorskip("resource")
    file = tmp_path / "out.json"
    command = [sys.executable, str(BENCHMARKS / "run.py"), "--only", "intake", "--quick", "--json", str(file)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, cwd=tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "typed lines understood" in done.stdout
    written = json.loads(file.read_text(encoding="utf-8"))
    assert written["machine"]["python"] == platform.python_version()
    assert written["machine"]["versions"]["numpy"] and written["machine"]["cores"] >= 1
    told = {"date", "python", "versions", "system", "architecture", "cores", "load_at_start", "blas_threads"}
    assert set(written["machine"]) == told  # and not which machine
    assert all(row["benchmark"] == "intake" and row["value"] > 0 for row in written["rows"])


def test_a_script_runs_alone(tmp_path):
    command = [sys.executable, str(BENCHMARKS / "level.py"), "--seeds", "1", "--json", str(tmp_path / "out.json")]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    assert "level of the map off" in done.stdout
    assert len(json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))["rows"]) == 9


def test_a_session_kept_comes_back_the_same(imported, tmp_path):
    sessions = imported("sessions")
    played = sessions.session_of("plate", 0, tmp_path)
    back = sessions.session_of("plate", 0, tmp_path)
    assert [path.name for path in tmp_path.rglob("*.pickle")] == ["0.pickle"]
    assert back.grill == played.grill and back.rounds == played.rounds
    assert (back.cells_c == played.cells_c).all()
    few = sessions.log_of(back, 5, contact=False, wrong_mark="all")
    assert [len(one.readings) for one in few] == [len(back.grill.labels), 5, 5, 5]
    marks = [
        (old.settings[name], new.settings[name])
        for old, new in zip(back.rounds, few, strict=True)
        for name in old.settings
    ]
    assert [abs(old - new) for old, new in marks if old != new] == [sessions.WRONG_BY]


def test_the_heat_balance_of_the_other_grills_closes(imported):
    other = imported("other_grills")
    grill = other.draw_other_grill("clogged", 1)
    metal, heat, kelvin = grill.metal, grill._heat(), grill._kelvin
    assert metal.conduction.sum(axis=0) == pytest.approx(0.0, abs=1e-9)  # it moves heat and makes none
    sigma = 5.670374419e-8  # W/(m² K⁴), CODATA 2018
    gained = metal.gas_w_m2k * (metal.air_k + metal.gas_rise_k * heat - kelvin)
    gained += metal.cover_emissivity * sigma * (metal.cover_k(heat) ** 4 - kelvin**4) + metal.wall_w_m2
    kept = 1.0 - metal.lid_keeps * (grill.habit == "closed")
    convected = metal.top_w_m2k * (kelvin - metal.air_k)
    lost = kept * (convected + metal.top_emissivity * sigma * (kelvin**4 - metal.air_k**4))
    assert gained.sum() == pytest.approx(lost.sum(), rel=1e-9)
