"""How soon is a tap safe and on every screen, what do kills cost, what does an idle page cost?

Run by hand::

    python tests/benchmarks/page.py [--kills 200] [--taps_sent 200] [--bodies 10000] [--idle_s 60] [--quick]

`gratemap page` runs as a process of its own on the loop-back network of this machine; a tap is one entry sent over a
connection of its own, as a phone that comes out of its pocket sends it. Taps come one every 0.4 s while the map of the
one before is still being worked on, and once as fast as they are acknowledged, as a phone sends what it had queued.
Beside each: the bare write and flush of as many rows to the same disk. Kills are SIGKILL at a random moment while taps
go on; after each the command is started again with the same port, and in the end every acknowledged entry is sent
again under its key.
"""

from __future__ import annotations

# Before numpy, as the command does: it keeps small matrices on one thread.
import cli  # noqa: F401

# isort: split

import os
import random
import statistics
import sys
import tempfile
import threading
import time
from http.client import HTTPException
from pathlib import Path

from table import Row, alone

sys.path.append(str(Path(__file__).parents[1]))
from heatmap import load_grill
from heatmap.readings.log import ReadingsLog
from phone import GRILL, NUMBERS, WALK, Command, Opened, Phone
from phone import rows as rows_of

#: Between two taps of a quick hand [s].
_PACE_S = 0.4
_WATCHERS = 10


def _folder(name: str) -> Path:
    (Path(name) / "grill.toml").write_text(GRILL, encoding="utf-8")
    return Path(name)


def _tap(phone: Phone, count: int) -> tuple[int, dict[str, object]]:
    label = WALK[count % 12]
    return phone.post("shots", key=f"k{count}", position=label, shown=NUMBERS[label] + random.Random(count).gauss(0, 2))


def _percentile(values: list[float], share: float) -> float:
    return sorted(values)[min(len(values) - 1, int(share * len(values)))]


def taps(count: int) -> list[Row]:
    """Return the milliseconds from a tap to its acknowledgement, to a second screen, and to the new map there."""
    with tempfile.TemporaryDirectory() as name:
        page = Command(_folder(name))
        try:
            cook, seen, mapped = Phone(page.urls[0]), {}, {}
            watcher = threading.Thread(target=_watch, args=(Phone(page.urls[1]), seen, mapped), daemon=True)
            watcher.start()
            time.sleep(0.5)
            acknowledged, started, ids = [], {}, {}
            for at in range(count):
                begun = time.perf_counter()
                status, body = _tap(cook, at)
                acknowledged.append(1e3 * (time.perf_counter() - begun))
                if status == 201:
                    started[at], ids[at] = begun, body["id"]
                time.sleep(max(0.0, _PACE_S - (time.perf_counter() - begun)))
            time.sleep(3.0)
            on_screen = [1e3 * (seen[ids[at]] - begun) for at, begun in started.items() if ids[at] in seen]
            new_map = [1e3 * (mapped[ids[at]] - begun) for at, begun in started.items() if ids[at] in mapped]
            burst = []
            for at in range(count, 2 * count):
                begun = time.perf_counter()
                _tap(cook, at)
                burst.append(1e3 * (time.perf_counter() - begun))
        finally:
            page.kill()
        bare = _bare(Path(name), count)
    size = f"{count} taps"
    return [
        _row("tap to acknowledged, on the disk", size, acknowledged, bare),
        _row("the same, as fast as they come", size, burst, bare),
        _row("tap to the number on a second screen", f"{len(on_screen)} taps", on_screen, None, "at most 150 ms"),
        _row("tap to the verdict of it on a second screen", f"{len(new_map)} taps", new_map, None),
    ]


def _row(what: str, size: str, values: list[float], bare: list[float] | None, limit: str = "") -> Row:
    other, against = (None, "") if bare is None else (statistics.median(bare), "bare write and flush")
    high = (_percentile(values, 0.99), None if bare is None else _percentile(bare, 0.99))
    value = statistics.median(values)
    return Row(
        what=what, size=size, value=value, unit="ms", against=against, other=other, limit=limit, also={"99 %": high}
    )


def _watch(phone: Phone, seen: dict[int, float], mapped: dict[int, float]) -> None:
    """Note when each reading is first on the screen, and when first with its verdict."""
    try:
        for state in phone.follow():
            at = time.perf_counter()
            for spot in state["spots"]:
                seen.setdefault(spot["id"], at)
                if spot["verdict"] is not None:
                    mapped.setdefault(spot["id"], at)
    except (OSError, ValueError, HTTPException):
        pass  # the page was ended


def _bare(folder: Path, count: int) -> list[float]:
    """Return the milliseconds of writing as many readings by the log alone."""
    grill = load_grill(folder / "grill.toml")
    readings = rows_of(folder)
    with ReadingsLog(folder / "bare.csv", grill, keyed=True) as log:
        taken = []
        for at in range(count):
            begun = time.perf_counter()
            log.append(readings[at % len(readings)])
            taken.append(1e3 * (time.perf_counter() - begun))
    return taken


def killed(kills: int) -> list[Row]:
    """Kill the page while taps go on; return how many entries were acknowledged, lost and doubled."""
    rng, acknowledged, count, back = random.Random(18), {}, 0, []
    with tempfile.TemporaryDirectory() as name:
        folder = _folder(name)
        page = Command(folder)
        url = page.urls[0]
        for _ in range(kills):
            phone = Phone(url)
            timer = threading.Timer(rng.uniform(0.02, 0.6), page.kill)
            timer.start()
            while True:
                try:
                    status, body = _tap(phone, count)
                except (OSError, ValueError, HTTPException):
                    break
                if status in (200, 201):
                    acknowledged[f"k{count}"] = body["id"]
                count += 1
            timer.join()
            begun = time.perf_counter()
            page = Command(folder, port=page.port)
            assert page.urls[0] == url
            Phone(url)
            back.append(time.perf_counter() - begun)
        found = rows_of(folder)
        by_key = {one.key: one.id for one in found}
        lost = sum(by_key.get(key) != number for key, number in acknowledged.items())
        phone = Phone(url)
        again = [phone.post("shots", key=key, position="B2", shown=580) for key in acknowledged]
        other = sum(
            (status, body.get("id")) != (200, number)
            for (status, body), number in zip(again, acknowledged.values(), strict=True)
        )
        doubled = len(found) - len(by_key)
        page.kill()
    size = f"{kills} kills, {len(acknowledged)} acknowledged"
    return [
        Row(what="acknowledged entries lost", size=size, value=lost, unit="1", limit="none"),
        Row(what="entries kept twice", size=size, value=doubled, unit="1", limit="none"),
        Row(what="same key after the restart, another answer", size=size, value=other, unit="1", limit="none"),
        Row(what="started again and phones let in", size=size, value=statistics.median(back), unit="s"),
    ]


def idle(seconds: float) -> list[Row]:
    """Return what a page costs that nobody taps on, with ten screens following and with none."""
    with tempfile.TemporaryDirectory() as name:
        page = Command(_folder(name))
        try:
            cook = Phone(page.urls[0])
            for at in range(12):
                _tap(cook, at)
            time.sleep(5.0)
            alone_s, alone_mib = _cost(page.process.pid, seconds)
            for _ in range(_WATCHERS):
                phone = Phone(page.urls[1])
                threading.Thread(target=_watch, args=(phone, {}, {}), daemon=True).start()
            time.sleep(2.0)
            with_s, with_mib = _cost(page.process.pid, seconds)
        finally:
            page.kill()
    size, of_one_core = f"{_WATCHERS} watchers, {seconds:g} s", 1e3 / seconds
    beside = {"size": size, "against": "no watcher"}
    return [
        Row(what="idle page, of one core", value=of_one_core * with_s, unit="‰", other=of_one_core * alone_s, **beside),
        Row(what="idle page, memory", value=with_mib, unit="MiB", other=alone_mib, **beside),
    ]


def _cost(process: int, seconds: float) -> tuple[float, float]:
    """Return processor seconds over that time, and the memory held [MiB], as Linux tells it (proc(5))."""

    def used() -> float:
        fields = Path(f"/proc/{process}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    before = used()
    time.sleep(seconds)
    status = Path(f"/proc/{process}/status").read_text(encoding="ascii")
    held = next(line for line in status.splitlines() if line.startswith("VmRSS:"))
    return used() - before, int(held.split()[1]) / 1024


def odd_bodies(count: int) -> list[Row]:
    """Send random bodies; return how many were answered otherwise than by one line of JSON, and how many were kept."""
    rng, unclear, kept = random.Random(18), 0, 0
    entry = b'{"key":"k1","position":"B2","aim":"rail","shown":582,"taken_at":null,"replaces":false}'
    with tempfile.TemporaryDirectory() as name:
        opened = Opened(_folder(name))
        cook = opened.client()
        for _ in range(count):
            body = bytearray(entry if rng.random() < 0.5 else rng.randbytes(rng.randrange(300)))
            for _ in range(rng.randrange(1, 8)):
                if body:
                    body[rng.randrange(len(body))] = rng.randrange(256)
            what = rng.choice(["shots", "turned", "sears", "void", "skip", "round"])
            answer = cook.post(f"/api/{what}", content=bytes(body))
            kept += what == "shots" and answer.status_code == 201
            sound = answer.status_code in (200, 201, 400, 409) and isinstance(answer.json(), dict)
            unclear += not sound or "Traceback" in answer.text
        wrong = sum(one.shown_c is not None and not one.position for one in rows_of(opened.folder))
        opened.close()
    size, told = f"{count} bodies", {"of them at no place": (float(wrong), None)}
    return [
        Row(what="random bodies without a clear answer", size=size, value=unclear, unit="1", limit="none"),
        Row(what="random bodies that were sound and kept", size=size, value=kept, unit="1", also=told),
    ]


def rows(
    quick: bool = False, kills: int = 200, taps_sent: int = 200, bodies: int = 10_000, idle_s: float = 60.0
) -> list[Row]:
    """Return all of it."""
    if quick:
        kills, taps_sent, bodies, idle_s = 3, 12, 300, 3.0
    return [*taps(taps_sent), *killed(kills), *idle(idle_s), *odd_bodies(bodies)]


if __name__ == "__main__":
    alone(rows, __doc__)
