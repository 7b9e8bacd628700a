"""How fast readings come in, beside the bare cost of the same step. By hand; no pass or fail.

Run: python tests/benchmarks/intake.py

Reading a file beside csv.DictReader; writing a row down beside one write and fsync; 20,000 lines through a
pseudo-terminal beside pyserial's readline. The two sides of a pair run in turn.
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

from heatmap.files.readings_csv import load_rounds
from heatmap.files.readings_log import ReadingsLog
from heatmap.grill import Burner, Grate, Grill, TargetBand
from heatmap.readings import Reading
from heatmap.serial_port import Chunk, Intake, SerialPort, line_parser
from heatmap.typed import parse_typed

GRILL = Grill(
    grate=Grate(width_mm=609.6, depth_mm=457.2),
    target=TargetBand(low_c=288.0, high_c=315.0),
    burners=(Burner(name="left", points_mm=((100.0, 25.0), (100.0, 430.0))),),
)
HEADER = (
    "id,round,session,taken_at,position,x_in,y_in,aim,shown_f,surface,lid,distance_in,knob_left,void,note"
)
ROUNDS, SHOTS = 1000, 15


def seconds(work: Callable[[], object], clock: Callable[[], float] = time.process_time) -> float:
    """Return how long one call takes."""
    began = clock()
    work()
    return clock() - began


def pair(name: str, ours: Callable[[], object], bare: Callable[[], object], runs: int = 7) -> None:
    """Print the median processor time of both sides and their ratio."""
    times = [(seconds(ours), seconds(bare)) for _ in range(runs)]
    one, other = (statistics.median(side) for side in zip(*times, strict=True))
    print(f"{name:<52}{1e3 * one:9.1f} ms {1e3 * other:9.1f} ms   x {one / other:.2f}")


def reading_a_file(folder: Path) -> None:
    """Load 1000 rounds beside csv.DictReader and one float a row."""
    path = folder / "many.csv"
    rows = [
        f"{SHOTS * r + k + 1},{r + 1},day,2031-06-14T13:05:{k:02d}.250+02:00,{'ABC'[k % 3]}{k % 4 + 1},,,"
        f"rail,{500 + (7 * r + k) % 1000 / 10:.1f},dry,open,,6.5,,"
        for r in range(ROUNDS)
        for k in range(SHOTS)
    ]
    path.write_text("\n".join([HEADER, *rows]) + "\n")

    def bare() -> None:
        with path.open(newline="") as file:
            [(row["position"], float(row["shown_f"])) for row in csv.DictReader(file)]

    pair(f"{ROUNDS} rounds of {SHOTS}: load_rounds | csv.DictReader", lambda: load_rounds(path, GRILL), bare)


def writing_rows(folder: Path) -> None:
    """Append rows one by one beside a bare write and fsync; wall time, for the disk decides."""
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
        batch_s = seconds(lambda: log.append_all([reading] * 20_000), time.perf_counter)
    os.close(file)
    one, other = statistics.median(ours), statistics.median(bare)
    name = "one typed reading on the disk | write and fsync"
    print(f"{name:<52}{1e3 * one:9.2f} ms {1e3 * other:9.2f} ms   x {one / other:.2f}   (wall)")
    print(f"{'a batch of 20,000 rows':<52}{1e6 * batch_s / 20_000:9.1f} us a row (wall)")


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
    with SerialPort(name) as port:
        while intake.counts.lines < count:
            intake.feed(port.read())
    return intake.counts.readings


def with_readline(name: str, count: int) -> int:
    """Read the lines with pyserial's readline, which is not safe to use when a timeout falls into a line."""
    import serial

    with serial.Serial(name, timeout=5.0) as port:
        return sum(bool(float(port.readline())) for _ in range(count))


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        reading_a_file(folder)
        writing_rows(folder)
    if hasattr(os, "openpty"):
        count = 20_000
        ours, bare = through_a_terminal(with_intake, count), through_a_terminal(with_readline, count)
        label = "20,000 lines through a terminal: intake | readline"
        print(f"{label:<52}{1e3 * ours:9.1f} ms {1e3 * bare:9.1f} ms   x {ours / bare:.2f}   (wall)")
    lines = b"B3 585.2 F\r\n" * 20_000
    took_s = seconds(lambda: Intake(line_parser(GRILL)).feed(Chunk(data=lines)))
    print(f"{'bytes to readings':<52}{1e6 * took_s / 20_000:9.1f} us a line")
    took_s = seconds(lambda: [parse_typed("B3 585", GRILL) for _ in range(20_000)])
    print(f"{'a typed line understood':<52}{1e6 * took_s / 20_000:9.1f} us")


if __name__ == "__main__":
    main()
