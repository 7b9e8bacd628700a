"""How fast readings come in, beside the bare cost of the same step. By hand; no pass or fail.

Run by hand: python tests/benchmarks/intake.py [--runs 7] [--quick]

Reading a file beside csv.DictReader; writing a row down beside one write and fsync; lines through a pseudo-terminal
beside pyserial's readline. The two sides of a pair run in turn.
"""

from __future__ import annotations

import csv
import os
import statistics
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

from table import Row, alone, grows

from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.csv_file import load_rounds
from heatmap.readings.log import ReadingsLog
from heatmap.readings.reading import Reading
from heatmap.readings.typed import Shot, parse_typed
from heatmap.serial_port import Chunk, Intake, PortItem, SerialPort, line_parser

GRILL = Grill(
    grate=Grate(width_mm=609.6, depth_mm=457.2),
    target=TargetBand(low_c=288.0, high_c=315.0),
    burners=(Burner(name="left", points_mm=((100.0, 25.0), (100.0, 430.0))),),
)
HEADER = "id,round,session,taken_at,position,x_in,y_in,aim,shown_f,surface,lid,distance_in,knob_left,void,note"
SHOTS = 15


def seconds(work: Callable[[], object], clock: Callable[[], float] = time.process_time) -> float:
    """Return how long one call takes."""
    began = clock()
    work()
    return clock() - began


def pairs(ours: Callable[[], object], bare: Callable[[], object], runs: int) -> tuple[float, float]:
    """Return the median processor time of both sides."""
    times = [(seconds(ours), seconds(bare)) for _ in range(runs)]
    one, other = (statistics.median(side) for side in zip(*times, strict=True))
    return one, other


def reading_a_file(folder: Path, rounds: int, runs: int) -> tuple[float, float]:
    """Load a file beside csv.DictReader and one float a row; return the seconds of both."""
    path = folder / "many.csv"
    rows = [
        f"{SHOTS * r + k + 1},{r + 1},day,2031-06-14T13:05:{k:02d}.250+02:00,{'ABC'[k % 3]}{k % 4 + 1},,,"
        f"rail,{500 + (7 * r + k) % 1000 / 10:.1f},dry,open,,6.5,,"
        for r in range(rounds)
        for k in range(SHOTS)
    ]
    path.write_text("\n".join([HEADER, *rows]) + "\n")

    def bare() -> None:
        with path.open(newline="") as file:
            [(row["position"], float(row["shown_f"])) for row in csv.DictReader(file)]

    return pairs(lambda: load_rounds(path, GRILL), bare, runs)


def writing_rows(folder: Path, count: int) -> tuple[float, float, float]:
    """Append rows one by one beside a bare write and fsync, then a batch; wall time a row, for the disk decides."""
    x_mm, y_mm = GRILL.point_mm("B3")
    reading = Reading(id=0, shown_c=307.0, x_mm=x_mm, y_mm=y_mm, position="B3")
    row = b"1,1,,,B3,,,rail,584.6,dry,open,,,,\n"
    ours, bare = [], []
    file = os.open(folder / "bare.csv", os.O_WRONLY | os.O_CREAT | os.O_APPEND)

    def write_and_sync() -> None:
        os.write(file, row)
        os.fsync(file)

    with ReadingsLog(folder / "log.csv", GRILL) as log:
        for _ in range(100):
            ours.append(seconds(lambda: log.append(reading), time.perf_counter))
            bare.append(seconds(write_and_sync, time.perf_counter))
        batch_s = seconds(lambda: log.append_all([reading] * count), time.perf_counter)
    os.close(file)
    return statistics.median(ours), statistics.median(bare), batch_s / count


def through_a_terminal(use: Callable[[str, int], int], count: int) -> float:
    """Feed lines through a pseudo-terminal as fast as it takes them; return the wall time of the reader."""
    master, slave = os.openpty()
    name = os.ttyname(slave)
    data = b"".join(b"%.1f\r\n" % (500 + n % 1000 / 10) for n in range(count))
    ready = threading.Event()

    def feed() -> None:
        ready.wait()
        time.sleep(0.2)  # opening throws away what is there already
        left = data
        while left:
            left = left[os.write(master, left[:4096]) :]

    feeder = threading.Thread(target=feed)
    feeder.start()
    began = time.perf_counter()
    ready.set()
    got = use(name, count)
    took_s = time.perf_counter() - began - 0.2
    feeder.join()
    os.close(master)
    os.close(slave)
    assert got == count
    return took_s


def with_intake(name: str, count: int) -> int:
    """Read the lines our way."""
    intake = Intake(line_parser(GRILL))
    items: list[PortItem] = []
    with SerialPort(name) as port:
        while len(items) < count:
            items += intake.feed(port.read())
    return sum(isinstance(item, Shot) for item in items)


def with_readline(name: str, count: int) -> int:
    """Read the lines with pyserial's readline, which is not safe to use when a timeout falls into a line."""
    import serial

    with serial.Serial(name, timeout=5.0) as port:
        return sum(bool(float(port.readline())) for _ in range(count))


def rows(quick: bool = False, runs: int = 7) -> list[Row]:
    """Return how many come in each second, every way."""
    runs, rounds, count = (1, 50, 2_000) if quick else (runs, 1_000, 20_000)
    wall, size = "by the clock on the wall", f"{count:,} lines"
    found = []

    def add(
        what: str, size: str, ours_s: float, against: str = "", other_s: float | None = None, many: int = 1
    ) -> None:
        other = None if other_s is None else many / other_s
        found.append(Row(what=what, size=size, value=many / ours_s, unit="a second", against=against, other=other))

    with tempfile.TemporaryDirectory() as name:
        times = {few: reading_a_file(Path(name), few, runs) for few in (rounds // 10, rounds)}
        for few, (one, other) in times.items():
            told = f"{few:,} rounds of {SHOTS} shots"
            add("rows of a readings file read", told, one, "csv.DictReader, float", other, few * SHOTS)
        found.extend(grows("reading a readings file", "rounds", {few: time[0] for few, time in times.items()}))
        one, other, batch = writing_rows(Path(name), count)
    add(f"readings on the disk, each flushed, {wall}", "100 readings", one, "write, fsync", other)
    add(f"readings on the disk, in one batch, {wall}", f"{count:,} readings", batch)
    took_s = seconds(lambda: [parse_typed("B3 585", GRILL) for _ in range(count)])
    add("typed lines understood", size, took_s, many=count)
    data = b"B3 585.2 F\r\n" * count
    took_s = seconds(lambda: Intake(line_parser(GRILL)).feed(Chunk(data=data)))
    add("lines of a port understood", size, took_s, many=count)
    if hasattr(os, "openpty"):
        one, other = (through_a_terminal(use, count) for use in (with_intake, with_readline))
        add(f"lines through a pseudo-terminal, {wall}", size, one, "pyserial's readline", other, count)
    return found


if __name__ == "__main__":
    alone(rows, __doc__)
