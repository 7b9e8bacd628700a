"""The page on a real socket of this process: streams, slow and rude clients, entry to event."""

from __future__ import annotations

import contextlib
import http.client
import json
import socket
import threading
import time

import pytest

from heatmap.page import tuning
from phone import NUMBERS, PATIENCE_S, WALK, Phone, rows


@pytest.fixture
def cook(served):
    return Phone(served.server.urls[0])


@pytest.fixture
def watcher(served):
    return Phone(served.server.urls[1])


def raw(served, data, wait_s=PATIENCE_S):
    """Send bytes and return all that comes back until the other end hangs up."""
    with socket.create_connection(("127.0.0.1", served.server.port), timeout=wait_s) as line:
        line.sendall(data)
        got = b""
        while chunk := line.recv(65536):
            got += chunk
    return got


def head_of(phone, length):
    lines = ["POST /api/shots HTTP/1.1", f"Host: {phone.host}", f"Cookie: {phone.cookie}", length, "", ""]
    return "\r\n".join(lines).encode()


def test_an_entry_shows_on_every_screen(cook, watcher):
    screens = [watcher.follow(), cook.follow()]
    for one in screens:
        assert next(one)["session"]["shots"] == 0
    for count, label in enumerate(WALK[:3], 1):
        entry = json.dumps({"key": f"k{count}", "position": label, "shown": NUMBERS[label]})
        told = json.loads(cook.ask("POST", "/api/shots", entry.encode())[2])
        for one in screens:
            state = next(state for state in one if state["session"]["shots"] == count)
            assert state["spots"][-1]["shown"] == NUMBERS[label]
            assert state["version"] >= told["version"]
            assert state["watching"] is (one is screens[0])


def test_the_map_follows_by_itself_and_then_nothing_more_comes(cook, watcher, served):
    states = watcher.follow()
    for index, label in enumerate(WALK):
        cook.post("shots", key=f"k{index}", position=label, shown=NUMBERS[label])
    last = next(
        one for one in states if one["map"] and not one["pending"] and one["session"]["complete"] and one["decision"]
    )
    time.sleep(0.5)
    assert json.loads(served.board.state(watching=True)[1])["version"] == last["version"]


def test_a_stream_begins_with_how_soon_to_come_back_and_beats(cook, monkeypatch):
    monkeypatch.setattr(tuning, "HEARTBEAT_S", 0.2)
    connection = http.client.HTTPConnection(cook.host, timeout=PATIENCE_S)
    connection.request("GET", "/api/events", headers={"Cookie": cook.cookie})
    answer = connection.getresponse()
    assert answer.getheader("content-type").startswith("text/event-stream")
    lines = [answer.readline().decode().rstrip("\n") for _ in range(9)]
    connection.close()
    assert lines[0] == "retry: 2000"
    assert lines[2].startswith("id: ") and lines[3] == "event: state" and lines[4].startswith("data: {")
    assert lines[6] == "event: beat" and lines[7].startswith('data: "20')


def test_twenty_streams_are_served_and_no_more(served, cook):
    streams = [cook.follow() for _ in range(tuning.MOST_STREAMS)]
    for one in streams:
        next(one)
    status, _, body = cook.ask("GET", "/api/events")
    assert (status, json.loads(body)) == (429, {"error": "20 screens follow already; close one"})
    for one in streams[:5]:
        one.close()
    served.state_when(lambda _: served.board.followers <= 15)
    next(cook.follow())


def test_a_reader_that_takes_nothing_is_given_up(served, cook, monkeypatch):
    monkeypatch.setattr(tuning, "PATIENCE_S", 0.5)
    with socket.socket() as line:
        line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        line.connect(("127.0.0.1", served.server.port))
        line.sendall(f"GET /api/events HTTP/1.1\r\nHost: {served.host}\r\nCookie: {cook.cookie}\r\n\r\n".encode())
        served.state_when(lambda _: served.board.followers == 1)
        filler = "x" * 60_000
        for index in range(100):  # more than the system keeps for it
            served.board.publish(filler=f"{index}{filler}")
            if index % 10 == 0:
                time.sleep(0.02)
        until = time.monotonic() + PATIENCE_S
        while served.board.followers and time.monotonic() < until:
            served.board.publish(filler=f"{time.monotonic()}{filler}")
            time.sleep(0.02)
        assert served.board.followers == 0


@pytest.mark.parametrize("sent", [b"", b"GET /api/state HT", b"GET / HTTP/1.1\r\nHost: x\r\n"])
def test_a_request_that_does_not_come_is_not_waited_for(served, monkeypatch, sent):
    monkeypatch.setattr(tuning, "PATIENCE_S", 0.3)
    start = time.monotonic()
    assert raw(served, sent) == b""
    assert 0.2 < time.monotonic() - start < PATIENCE_S


def test_no_more_connections_are_held_than_may_be(served, monkeypatch):
    """Each costs an open file, of which a log and its lock need some as well."""
    monkeypatch.setattr(tuning, "MOST_CONNECTIONS", 5)
    where = ("127.0.0.1", served.server.port)
    with contextlib.ExitStack() as held:
        lines = [held.enter_context(socket.create_connection(where, timeout=PATIENCE_S)) for _ in range(10)]
        start = time.monotonic()
        assert [line.recv(1) for line in lines[5:]] == 5 * [b""]
        assert time.monotonic() - start < tuning.PATIENCE_S / 2.0, "hung up at once, not for want of a request"


def test_a_body_that_does_not_come_is_not_waited_for(served, cook, monkeypatch):
    monkeypatch.setattr(tuning, "PATIENCE_S", 0.3)
    got = raw(served, head_of(cook, "Content-Length: 90") + b'{"key":')
    assert got.startswith(b"HTTP/1.1 400 ") and b"did not come in time" in got


def test_a_body_that_says_it_is_too_large_is_not_waited_for(served, cook):
    start = time.monotonic()
    assert raw(served, head_of(cook, "Content-Length: 1000000")).startswith(b"HTTP/1.1 413 ")
    assert time.monotonic() - start < tuning.PATIENCE_S / 2.0


def test_a_body_in_chunks_is_cut_off_at_64_kib(served, cook):
    head = head_of(cook, "Transfer-Encoding: chunked")
    chunk = b"4000\r\n" + b" " * 0x4000 + b"\r\n"
    with socket.create_connection(("127.0.0.1", served.server.port), timeout=PATIENCE_S) as line:
        line.sendall(head + 5 * chunk)
        assert line.recv(65536).startswith(b"HTTP/1.1 413 ")
    assert rows(served.folder) == ()


def test_a_phone_that_hangs_up_after_sending_is_kept_all_the_same(served, cook):
    body = json.dumps({"key": "k1", "position": "B2", "shown": 580}).encode()
    head = head_of(cook, f"Content-Length: {len(body)}")
    with socket.create_connection(("127.0.0.1", served.server.port)) as line:
        line.sendall(head + body)
        served.state_when(lambda state: state["session"]["shots"] == 1)
    assert cook.post("shots", key="k1", position="B2", shown=580)[0] == 200
    assert len(rows(served.folder)) == 1


def test_the_end_ends_every_stream_at_once(served, cook):
    ended = threading.Event()

    def watch():
        for _ in cook.follow():
            pass
        ended.set()

    threading.Thread(target=watch, daemon=True).start()
    served.state_when(lambda _: served.board.followers == 1)
    start = time.monotonic()
    served.server.__exit__()
    assert ended.wait(PATIENCE_S)
    assert time.monotonic() - start < 5.0
