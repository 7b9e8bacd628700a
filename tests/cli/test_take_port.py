"""`gratemap take --port`: readings from a pseudo-terminal, a socket, and the loop; the keyboard still works."""

from __future__ import annotations

import os
import socket
import threading
import time

import pytest
import serial

from heatmap import load_grill
from heatmap.readings.csv_file import read_readings
from started import DEVNULL, PIPE, Started, run

WALK = "B2 A1 C4 A4 C1 A2 B3 B1 A3 C2 B4 C3".split()

pytestmark = pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")


def rows(folder):
    path = folder / "readings.csv"
    return read_readings(path, load_grill(folder / "grill.toml")).readings if path.exists() else ()


def shown(folder):
    return [(row.position, round(row.shown_c * 1.8 + 32, 1)) for row in rows(folder) if row.shown_c is not None]


def test_numbers_from_the_port_while_the_keyboard_still_works(plain_grill, gun, at_terminal):
    terminal = at_terminal("take", "--port", gun.link)
    terminal.expect("1 open or 2 closed")
    gun.send(b"580.5\r\n")  # a hand at the gun answers nothing: the lid is taken as it was last
    terminal.expect("Kept: B2 580.5")
    terminal.asks_for("A1")
    terminal.type("skip")
    terminal.asks_for("C4")
    gun.send(b"T = 601.0 F\r\n")
    terminal.expect("Kept: C4 601")
    terminal.asks_for("A4")
    terminal.type("-")
    terminal.expect("Taken back: C4 601")
    terminal.asks_for("C4")
    terminal.type("599")
    terminal.expect("Kept: C4 599")
    gun.send(b"E=0.95 588\r\nOL\r\nB3,588\n")
    terminal.expect("From the port, not a reading")
    terminal.expect("Kept: B3 588")
    terminal.expect("above what the gun can show")
    terminal.asks_for("A4")
    terminal.type("done")
    terminal.expect("Another round")
    terminal.type("")
    terminal.ends_with(0)
    assert shown(plain_grill) == [("B2", 580.5), ("C4", 601), ("C4", 599), ("B3", 588)]


def test_a_cable_pulled_out_in_the_middle_of_a_number_loses_nothing_and_invents_nothing(plain_grill, gun, at_terminal):
    terminal = at_terminal("take", "--lid", "open", "--port", gun.link)
    terminal.asks_for("B2")
    gun.send(b"580\r\n")
    terminal.expect("Kept: B2 580")
    terminal.asks_for("A1")
    gun.send(b"57")
    gun.unplug()
    terminal.expect("is gone; plug it in again")
    terminal.type("A2 566")  # the keyboard goes on
    terminal.expect("Kept: A2 566")
    gun.plug()
    terminal.expect("is back")
    # What the opened port may have missed the beginning of is not read.
    for _ in range(50):
        gun.send(b"\r\n572\r\n")
        if "Kept: A1 572" in terminal.expect("Kept: [A-C][1-4] 572|not a reading"):
            break
    terminal.press(b"\x03")
    terminal.ends_with(130)
    numbers = shown(plain_grill)
    assert numbers[:3] == [("B2", 580), ("A2", 566), ("A1", 572)]
    assert {number for _, number in numbers} == {580, 566, 572}


def test_a_number_that_cannot_be_is_kept_in_doubt_and_shot_again(plain_grill, gun, at_terminal):
    terminal = at_terminal("take", "--lid", "open", "--port", gun.link, "--bell")
    for label in WALK[:6]:
        terminal.asks_for(label)
        gun.send(b"580\r\n")
    terminal.asks_for("B3")
    before = terminal.seen.count("\a")
    gun.send(b"58\r\n")
    terminal.expect("B3 58 is kept but doubted: about 58[0-9] .F was expected. Shoot B3 again")
    terminal.asks_for("B3")
    assert terminal.seen.count("\a") == before + 2
    gun.send(b"581\r\n")
    terminal.expect("Kept: B3 581")
    terminal.asks_for("B1")
    notes = [row.note for row in rows(plain_grill) if row.position == "B3"]
    assert [note.split(":")[0] for note in notes] == ["doubted", ""]
    gun.send(b"450\r\n")
    terminal.expect("B1 450 is kept but doubted")
    gun.send(b"451\r\n")  # a second witness
    terminal.expect("Kept: B1 451")
    assert [row.note.split(":")[0] for row in rows(plain_grill) if row.position == "B1"] == ["doubted", "kept"]


def test_a_gun_that_streams_is_read_when_steady(plain_grill, gun, at_terminal):
    terminal = at_terminal("take", "--lid", "open", "--port", gun.link, "--settle", "0.2")
    for label, number in zip(WALK[:3], (580, 540, 610), strict=True):
        terminal.asks_for(label)
        until = time.monotonic() + 30.0
        while f"Kept: {label} {number}" not in terminal.seen and time.monotonic() < until:
            gun.send(f"{number}\r\n".encode())
            terminal.poll(0.03)
    assert shown(plain_grill) == [(WALK[0], 580), (WALK[1], 540), (WALK[2], 610)]


def test_without_a_keyboard_the_round_ends_when_every_position_is_shot(plain_grill, gun):
    words = ("take", "--port", gun.link, "--unit", "C", "--pattern", r"v=(?P<value>\S+)")
    process = Started(*words, cwd=plain_grill, stdin=DEVNULL, stdout=PIPE, stderr=PIPE)
    assert process.stderr is not None
    while b"Round 1" not in process.stderr.readline():
        pass
    for index in range(12):
        gun.send(f"v={300 + index}\r\n".encode())
    out, told = process.communicate(timeout=60)
    assert process.returncode == 0, told
    assert b"of the grate" in out
    assert [round(row.shown_c) for row in rows(plain_grill)] == list(range(300, 312))
    assert [row.position for row in rows(plain_grill)] == WALK


def test_5000_lines_as_fast_as_the_port_takes_them_land_in_order(plain_grill, gun, at_terminal):
    terminal = at_terminal("take", "--lid", "open", "--port", gun.link)
    terminal.asks_for("B2")
    numbers = [400 + index % 389 for index in range(5_000)]
    sender = threading.Thread(target=gun.send, args=("".join(f"{one}\r\n" for one in numbers).encode(),))
    sender.start()
    while sender.is_alive():
        terminal.poll(0.05)
    gun.send(b"B2 1001\r\n")
    terminal.expect("B2 1001")
    terminal.press(b"\x03")
    terminal.ends_with(130)
    assert [number for _, number in shown(plain_grill)] == [*numbers, 1001]


def test_a_socket_is_a_port_too(plain_grill, at_terminal):
    with socket.create_server(("127.0.0.1", 0)) as server:
        terminal = at_terminal("take", "--lid", "open", "--port", f"socket://127.0.0.1:{server.getsockname()[1]}")
        connection, _ = server.accept()
        with connection:
            terminal.asks_for("B2")
            connection.sendall(b"58")
            connection.sendall(b"0\n")
            terminal.expect("Kept: B2 580")
            terminal.asks_for("A1")
            terminal.press(b"\x03")
            terminal.ends_with(130)


def test_loop_is_a_port_too_and_the_keyboard_alone_will_do(plain_grill, at_terminal):
    terminal = at_terminal("take", "--lid", "open", "--port", "loop://")
    terminal.asks_for("B2")
    terminal.type("580")
    terminal.expect("Kept: B2 580")
    terminal.press(b"\x04")
    terminal.ends_with(0)


def test_a_port_that_is_not_there_is_one_line_and_exit_4(plain_grill):
    result = run("take", "--port", str(plain_grill / "nothing"), cwd=plain_grill, text=True)
    assert result.returncode == 4
    assert "there is no port" in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--unit", "K"), 2),
        # The speeds that pyserial lists (`serial.Serial.BAUDRATES`).
        (("--baud", str(min(filter(None, serial.Serial.BAUDRATES)) - 1)), 2),
        (("--baud", str(max(serial.Serial.BAUDRATES) + 1)), 2),
        (("--pattern", "("), 3),
        (("--settle", "0"), 3),
    ],
)
def test_options_of_the_port_are_checked(plain_grill, gun, words, code):
    result = run("take", "--port", gun.link, *words, cwd=plain_grill, text=True)
    assert result.returncode == code
    assert "Traceback" not in result.stderr
