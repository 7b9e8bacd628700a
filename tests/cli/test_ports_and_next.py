"""`gratemap ports` and `gratemap next`."""

from __future__ import annotations

import json

from heatmap.serial_port import PortInfo, port

FOUND = (
    PortInfo(
        device="/dev/ttyUSB0",
        description="USB serial converter",
        hardware="USB VID:PID=0403:6001",
        stable_name="/dev/serial/by-id/usb-converter",
    ),
    PortInfo(device="/dev/ttyS0"),
)


def test_ports_are_listed_with_what_they_are(gratemap, monkeypatch):
    monkeypatch.setattr(port, "list_ports", lambda: FOUND)
    out = gratemap("ports").stdout
    assert "/dev/ttyUSB0  USB serial converter" in out
    assert "the same after a replug: /dev/serial/by-id/usb-converter" in out
    listed = json.loads(gratemap("ports", "--json").stdout)["ports"]
    assert [port["device"] for port in listed] == ["/dev/ttyUSB0", "/dev/ttyS0"]
    assert listed[1]["description"] is None


def test_no_port_is_said(gratemap, monkeypatch):
    monkeypatch.setattr(port, "list_ports", lambda: ())
    result = gratemap("ports")
    assert result.exit_code == 0
    assert "There is no serial port" in result.stdout
    assert json.loads(gratemap("ports", "--json").stdout) == {"ports": []}


def test_next_json_has_the_keys_of_the_contract(samples, gratemap):
    document = json.loads(gratemap("next", "--json", "--count", "4").stdout)
    assert set(document) == {"positions"}
    assert len(document["positions"]) == 4
    assert all(set(one) == {"position", "x_in", "y_in", "why"} for one in document["positions"])


def test_next_in_words(samples, gratemap):
    lines = gratemap("next").stdout.splitlines()
    assert len(lines) >= 3
    assert all(line.strip() for line in lines)


def test_next_before_there_is_a_map_follows_the_walk(plain_grill, gratemap, monkeypatch):
    monkeypatch.chdir(plain_grill)
    (plain_grill / "readings.csv").write_text("position,shown_f\nB2,580\n", encoding="utf-8")
    document = json.loads(gratemap("next", "--json").stdout)
    assert [one["position"] for one in document["positions"]] == ["A1", "C4", "A4"]
    assert "too few readings" in document["positions"][0]["why"]


def test_next_refuses_a_count_below_one(samples, gratemap):
    assert gratemap("next", "--count", "0").exit_code == 2
