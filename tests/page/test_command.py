"""`gratemap page` in a process of its own: addresses, one writer, killed and started again."""

from __future__ import annotations

import random
import re
import signal
import socket
import threading
from http.client import HTTPException

import pytest

from heatmap.page.page_file import PageFile
from phone import NUMBERS, WALK, Phone, rows
from started import run


def test_it_says_both_addresses_serves_and_ends_plainly(command, folder):
    page = command()
    cook, watch = map(Phone, page.urls)
    assert cook.state()["watching"] is False and watch.state()["watching"] is True
    assert cook.post("shots", key="k1", position="B2", shown=580)[0] == 201
    assert page.end() == "The page is closed. 1 row is safe in readings.csv.\n"
    assert page.process.returncode == 0
    assert len(rows(folder)) == 1


def test_sigterm_ends_it_too(command):
    page = command()
    page.process.send_signal(signal.SIGTERM)
    page.process.communicate(timeout=40)
    assert page.process.returncode == 128 + signal.SIGTERM


def test_killed_while_tapping_nothing_acknowledged_is_lost_and_phones_go_on(command, folder):
    rng, acknowledged, count = random.Random(9), {}, 0
    page = command()
    url, port = page.urls[0], page.port
    for _ in range(4):
        phone = Phone(url)
        waiting = threading.Timer(rng.uniform(0.05, 0.6), page.kill)
        waiting.start()
        while True:
            key, label = f"k{count}", WALK[count % 12]
            try:
                status, body = phone.post("shots", key=key, position=label, shown=NUMBERS[label] + count % 3)
            except (OSError, ValueError, HTTPException):
                break
            assert status in (200, 201), body
            acknowledged[key] = body["id"]
            count += 1
        waiting.join()
        page = command(port=port)
        assert page.urls[0] == url  # the same address and token
    phone = Phone(url)
    for key, number in acknowledged.items():
        status, body = phone.post("shots", key=key, position="B2", shown=580)
        assert (status, body["id"]) == (200, number)
    found = {one.key: one.id for one in rows(folder)}
    assert acknowledged.items() <= found.items()
    assert len(found) == len(rows(folder)) <= len(acknowledged) + 4  # each key once; unanswered ones may be there
    assert {one.round for one in rows(folder)} == {1}
    assert phone.state()["session"]["round"] == 1


def test_a_round_begun_before_the_kill_is_still_begun(command, folder):
    page = command()
    phone = Phone(page.urls[0])
    phone.post("shots", key="k1", position="B2", shown=580)
    assert phone.post("round", key="r1", kind="full")[1] == {"round": 2}
    phone.post("shots", key="k2", typed="knob left 6.5")
    phone.post("shots", key="k3", typed="lid closed")
    page.kill()
    phone = Phone(command(port=page.port).urls[0])
    state = phone.state()
    assert (state["session"]["round"], state["session"]["lid"]) == (2, "closed")
    assert state["grill"]["burners"][0]["mark"] == 6.5
    assert phone.post("round", key="r1", kind="full") == (200, {"round": 2})
    phone.post("shots", key="k4", position="B2", shown=590)
    assert [one.round for one in rows(folder)] == [1, 2]


def test_take_beside_it_is_refused_with_words_and_it_beside_take(command, folder, at_terminal):
    page = command()
    done = run("take", "-", cwd=folder, text=True, given="580\n")
    assert done.returncode == 3
    assert "readings.csv is being written by another gratemap; end that one first" in done.stderr
    page.end()
    terminal = at_terminal("take", "--lid", "open", "--knob", "left=6", "--knob", "right=MED", cwd=folder)
    terminal.asks_for("B2")
    done = run("page", "--port", "0", "--say-url", cwd=folder, text=True)
    assert done.returncode == 3 and "end that one first" in done.stderr and done.stdout == ""


@pytest.mark.parametrize(
    ("host", "words"),
    [
        ("0.0.0.0", "--host 0.0.0.0 is every network there is; name the one you mean: 127.0.0.1"),
        ("::", "is every network there is"),
        ("192.0.2.77", "192.0.2.77 is no address of this machine; --host can be 127.0.0.1"),
        ("kitchen", '--host is "kitchen"; it must be an address, 127.0.0.1'),
    ],
)
def test_a_host_that_cannot_be_is_said(folder, gratemap, monkeypatch, host, words):
    monkeypatch.chdir(folder)
    result = gratemap("page", "--host", host, "--port", "0")
    assert result.exit_code == 2
    assert words in " ".join(re.sub(r"[│╭╮╰╯─]", "", result.output).split())
    assert not (folder / ".readings.csv.page").exists()


def test_a_port_that_is_taken_is_said(folder, gratemap, monkeypatch):
    monkeypatch.chdir(folder)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        result = gratemap("page", "--port", port)
    assert result.exit_code == 3
    assert f"port {port} is in use, perhaps by another gratemap; name another with --port" in result.output


def test_take_with_a_page_is_one_session_for_keyboard_and_phone(folder, at_terminal):
    words = ("--lid", "open", "--knob", "left=6", "--knob", "right=MED", "--page", "--page-port", "0")
    terminal = at_terminal("take", *words, cwd=folder, columns=160)
    found = re.search(r"for the cook: (http://\S+)", terminal.expect(r"for the cook: http://\S+\s"))
    terminal.expect("Enter goes on")
    phone = Phone(found[1])
    terminal.type("")
    terminal.asks_for("B2")
    states = phone.follow()
    next(states)
    terminal.type("580")
    terminal.asks_for("A1")
    assert next(one for one in states if one["session"]["shots"] == 1)["session"]["next"]["position"] == "A1"
    assert phone.post("shots", key="k1", position=None, shown=562)[1]["kept"] == "A1 562"
    terminal.expect("From the page: Kept: A1 562")
    terminal.asks_for("C4")
    assert phone.post("shots", key="k2", position="C4", shown=60)[0] == 409  # asked about on the phone alone
    terminal.type("60")
    terminal.expect("60 at C4")
    assert phone.post("shots", key="k3", position="A4", shown=571)[0] == 201
    terminal.expect("From the page: Kept: A4 571")
    terminal.expect("60 at C4")  # what was asked here is still asked
    terminal.type("601")
    terminal.expect("Kept: C4 601")
    assert phone.post("round", key="r1", kind="full") == (201, {"round": 2})
    terminal.expect("Round 2, begun on the page")
    terminal.asks_for("B2")
    terminal.type("590")
    terminal.asks_for("A1")
    assert [(one.round, one.position, one.key) for one in rows(folder)] == [
        (1, "B2", ""), (1, "A1", "k1"), (1, "A4", "k3"), (1, "C4", ""), (2, "B2", "")
    ]  # fmt: skip
    terminal.type("*")
    terminal.expect("Another round")
    assert phone.post("shots", key="k4", position="A1", shown=560)[0] == 201  # answered while something is asked here
    assert phone.post("round", key="r2", kind="full") == (201, {"round": 3})
    terminal.expect("Round 3, begun on the page")
    terminal.asks_for("B2")


def test_take_asks_for_the_knobs_and_the_phone_is_answered_meanwhile(folder, at_terminal):
    terminal = at_terminal("take", "--page", "--page-port", "0", cwd=folder, columns=160)
    found = re.search(r"for the cook: (http://\S+)", terminal.expect(r"for the cook: http://\S+\s"))
    terminal.expect("Enter goes on")
    terminal.type("")
    terminal.expect("Where do the knobs stand")
    assert Phone(found[1]).post("shots", key="k1", position="B2", shown=580)[0] == 201
    terminal.type("6.5 MED")
    terminal.asks_for("A1")


def test_take_with_a_page_needs_a_keyboard(folder):
    done = run("take", "-", "--page", cwd=folder, text=True)
    assert done.returncode == 3
    assert "--page stands beside a keyboard" in done.stderr


def server_at(host, port, cook, watch):
    """Return a server of which no more is known than where it is and who may come in."""
    from cli.page import PageServer

    server = PageServer.__new__(PageServer)
    server.host, server.port, server.kept = host, port, PageFile(cook=cook, watch=watch)
    return server


def test_the_code_on_the_screen_is_the_address(monkeypatch, capsys):
    """Read back from the half blocks and held against another drawing of the same code, dark on light."""
    import segno

    from cli import console
    from cli.page import say_where

    server = server_at("192.0.2.5", 8747, "c" * 32, "w" * 32)
    monkeypatch.setattr(console, "follows_escapes", lambda _: True)
    monkeypatch.setattr(console, "can_show", lambda *_: True)
    say_where(server, say_url=False)
    told = capsys.readouterr().err
    assert "The page, for the cook: http://192.0.2.5:8747/t/" + "c" * 32 in told
    assert "To watch only: http://192.0.2.5:8747/t/" + "w" * 32 in told
    assert "Phones on the network of 192.0.2.5 reach it." in told
    lines = [line for line in told.splitlines() if line.startswith("\033[97;40m")]
    light = {"█": (1, 1), "▀": (1, 0), "▄": (0, 1), " ": (0, 0)}
    rows = [[light[sign][half] for sign in line[8:-4]] for line in lines for half in (0, 1)]
    drawn = [[1 - int(dark) for dark in row] for row in segno.make(server.urls[0], error="m").matrix_iter(border=2)]
    assert rows[: len(drawn)] == drawn


def test_say_url_is_two_addresses_on_stdout_and_nothing_else(capsys):
    from cli.page import say_where

    server = server_at("::1", 80, "c", "w")
    assert server.hosts == {"[::1]:80", "[::1]", "localhost:80", "localhost"}
    say_where(server, say_url=True)
    assert capsys.readouterr() == ("http://[::1]:80/t/c\nhttp://[::1]:80/t/w\n", "")
