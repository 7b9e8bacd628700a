"""What the page answers: entries, the state, and every way in which something is refused."""

from __future__ import annotations

import json
import random
import threading
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from heatmap.page import tuning
from heatmap.page.state import grill_part
from heatmap.readings.sears import read_sears
from heatmap.taking.session import Session
from phone import NUMBERS, WALK, Opened, rows


def post(client, what, **entry):
    """Return status and body; every entry that is kept also tells from which state on it shows."""
    answer = client.post(f"/api/{what}", json=entry)
    body = answer.json()
    assert ("version" in body) is (answer.status_code in (200, 201))
    return answer.status_code, {name: value for name, value in body.items() if name != "version"}


def shoot(client, key, position, shown, **more):
    return post(client, "shots", key=key, position=position, aim="rail", shown=shown, **more)


def standing(opened):
    return [(one.position, round(one.shown_c * 1.8 + 32)) for one in opened.sitting.session.readings]


# Entries


def test_a_shot_is_on_the_disk_when_it_is_acknowledged_and_the_same_key_is_once(opened, cook):
    assert shoot(cook, "k1", "B3", 582) == (201, {"id": 1, "position": "B3", "shown": 582.0, "kept": "B3 582"})
    (row,) = rows(opened.folder)
    assert (row.id, row.position, row.aim, row.key) == (1, "B3", "rail", "k1")
    assert row.shown_c == pytest.approx((582 - 32) / 1.8)
    assert shoot(cook, "k1", "B3", 582) == (200, {"id": 1, "position": "B3", "shown": 582.0, "kept": "B3 582"})
    assert len(rows(opened.folder)) == 1


def test_without_a_position_it_is_the_one_asked_for(opened, cook):
    assert cook.get("/api/state").json()["session"]["next"]["position"] == "B2"
    assert shoot(cook, "k1", None, 580)[1]["kept"] == "B2 580"
    state = cook.get("/api/state").json()
    assert state["session"]["next"]["position"] == "A1"
    assert state["session"]["ahead"][:3] == ["A1", "C4", "A4"]
    assert state["session"]["last"] == {"id": 1, "position": "B2", "shown": 580.0, "aim": "rail"}


def test_a_number_below_zero_is_a_slip(opened, cook):
    status, answer = shoot(cook, "k1", "B2", -10)
    assert (status, standing(opened)) == (400, [])
    assert answer["error"] == "shown is -10, below zero; enter what the gun shows without a sign"


def test_a_second_number_is_a_repeat_unless_it_replaces(opened, cook):
    shoot(cook, "k1", "B2", 580)
    assert shoot(cook, "k2", "B2", 599)[0] == 201
    assert standing(opened) == [("B2", 580), ("B2", 599)]
    assert shoot(cook, "k3", "B2", 590, replaces=True)[0] == 201
    assert standing(opened) == [("B2", 590)]
    assert [(one.shown_c is None, one.void) for one in rows(opened.folder)][3:] == [(True, 1), (True, 2)]
    assert shoot(cook, "k3", "B2", 590, replaces=True)[0] == 200
    assert len(rows(opened.folder)) == 5


def test_a_number_that_cannot_be_is_asked_about_and_nothing_is_written(opened, cook):
    shoot(cook, "k1", "B2", 580)
    status, body = shoot(cook, "k2", "A1", 58)
    assert status == 409
    assert body["question"] == {
        "text": body["error"], "position": "A1", "shown": 58.0, "aim": "rail", "meant": body["question"]["meant"]
    }  # fmt: skip
    assert body["error"].startswith("58 at A1") and len(rows(opened.folder)) == 1
    assert shoot(cook, "k2", "A1", 585)[0] == 201  # the right number, under the same key
    assert shoot(cook, "k3", "C4", 58)[0] == 409
    assert shoot(cook, "k3", "C4", 58, insist=True)[0] == 201
    assert [one.note for one in rows(opened.folder)] == ["", "", "kept"]


@pytest.mark.parametrize(
    ("line", "kept"),
    [
        ("B two five eighty two", "B2 582"),
        ("a1 575", "A1 575"),
        ("contact B3 610", "contact B3 610"),
        ("B 585 590 600", "B1 585, B2 590, B3 600"),
        ("five eighty", "B2 580"),
        ("lid closed", "The lid was closed before the round."),
        ("knob left 6.5", "left is at 6.5 from the next shot on."),
        ("note wind from the left", "Noted: wind from the left"),
        ("turned left 4", "the turn of the knobs"),
    ],
)
def test_a_line_is_understood_as_at_the_keyboard(cook, line, kept):
    assert post(cook, "shots", key="k1", typed=line)[1]["kept"] == kept
    assert post(cook, "shots", key="k1", typed=line)[0] == 200


@pytest.mark.parametrize("line", ["bee to five", "B two fifty eight two", "585 590", "done", "help", "Z9 585", "é"])
def test_a_line_that_is_not_understood_is_not_guessed_at(opened, cook, line):
    status, body = post(cook, "shots", key="k1", typed=line)
    assert status == 400
    assert body["error"] and "\n" not in body["error"]
    assert rows(opened.folder) == ()


def test_undo_takes_back_the_one_that_is_named_or_the_last(opened, cook):
    shoot(cook, "k1", "B2", 580)
    shoot(cook, "k2", "A1", 562)
    assert post(cook, "void", key="v1", id=1) == (201, {"id": 1, "withdrawn": "B2 580"})
    assert post(cook, "void", key="v1", id=1) == (200, {"id": 1, "withdrawn": "B2 580"})
    assert post(cook, "void", key="v2", id=1)[0] == 409
    assert cook.get("/api/state").json()["session"]["next"]["position"] == "B2"
    assert post(cook, "void", key="v3", id=None) == (201, {"id": 2, "withdrawn": "A1 562"})
    assert standing(opened) == []
    assert post(cook, "void", key="v4")[0] == 409
    assert post(cook, "void", key="v5", id=77)[0] == 409


def test_undo_of_one_that_replaced_brings_the_old_number_back(opened, cook):
    shoot(cook, "k1", "B2", 580)
    shoot(cook, "k2", "B2", 590, replaces=True)
    assert post(cook, "void", key="v1", id=2)[0] == 201
    assert standing(opened) == [("B2", 580)]


def test_knobs_are_turned_by_number_or_by_name(opened, cook):
    shoot(cook, "k1", "B2", 580)
    assert post(cook, "turned", key="t1", marks={"left": 6.5, "right": "MED"})[0] == 201
    assert post(cook, "turned", key="t1", marks={"left": 6.5, "right": "MED"})[0] == 200
    row = rows(opened.folder)[-1]
    assert (row.aim, dict(row.knobs), row.key) == ("turned", {"left": 6.5, "right": 5.5}, "t1")
    burners = cook.get("/api/state").json()["grill"]["burners"]
    assert [one["mark"] for one in burners] == [6.5, "MED"]
    status, body = post(cook, "turned", key="t2", marks={"left": 99})
    assert status == 400 and "it goes from 1 to 10" in body["error"]
    assert post(cook, "turned", key="t3", marks={"middle": 3})[0] == 400


def test_a_new_round_is_begun_once_and_stands_before_its_first_shot(opened, cook):
    shoot(cook, "k1", "B2", 580)
    assert post(cook, "round", key="r1", kind="full") == (201, {"round": 2})
    assert post(cook, "round", key="r1", kind="full") == (200, {"round": 2})
    assert cook.get("/api/state").json()["session"]["round"] == 2
    shoot(cook, "k2", "B2", 590)
    assert [one.round for one in rows(opened.folder)] == [1, 2]
    status, body = post(cook, "round", key="r2", kind="recheck")
    assert status == 400 and "needs a full round before it" in body["error"]


def test_a_shot_of_a_round_that_is_over_goes_to_that_round(opened, cook):
    shoot(cook, "k1", "B2", 580)
    post(cook, "round", key="r1", kind="full")
    at = datetime.now(UTC).isoformat()
    assert shoot(cook, "k2", "A1", 562, round=1, taken_at=at)[0] == 201
    assert shoot(cook, "k2", "A1", 562, round=1, taken_at=at)[0] == 200
    assert [(one.round, one.position) for one in rows(opened.folder)] == [(1, "B2"), (1, "A1")]
    assert cook.get("/api/state").json()["session"]["shots"] == 0


def test_a_position_is_passed_over_once(cook):
    assert post(cook, "skip", key="s1", position="B2") == (201, {"skipped": "B2"})
    assert post(cook, "skip", key="s1", position="B2")[0] == 200
    assert cook.get("/api/state").json()["session"]["next"]["position"] == "A1"
    assert post(cook, "skip", key="s2") == (201, {"skipped": "A1"})
    shoot(cook, "k1", "C4", 601)
    shoot(cook, "k2", "C4", 570, replaces=True)
    assert post(cook, "skip", key="s3", position="A4") == (201, {"skipped": "A4"})
    assert [one["shown"] for one in cook.get("/api/state").json()["spots"]] == [570.0]


def test_a_sear_is_kept_once(opened, cook):
    entry = {"place": "on B2", "turns_s": [60, 62, 61, 60], "outcome": "over", "peak": 142, "note": "<b>hot</b>"}
    assert post(cook, "sears", key="e1", **entry) == (201, {"row": 1})
    assert post(cook, "sears", key="e1", **entry) == (200, {"row": 1})
    (piece,) = read_sears(opened.folder / "sears.csv", opened.grill)
    assert (piece.turns_s, piece.outcome, piece.note, piece.key) == (
        (60, 62, 61, 60),
        "over",
        "<b>hot</b>; wanted 137",
        "e1",
    )
    assert piece.peak_c == pytest.approx((142 - 32) / 1.8)
    assert post(cook, "sears", key="e2", turns_s=[0])[0] == 400
    assert post(cook, "sears", key="e3", turns_s=[60], outcome="burnt")[0] == 400
    for peak in (2, 212):
        status, answer = post(cook, "sears", key="e5", turns_s=[60], peak=peak)
        assert status == 400
        assert f"the peak of the test piece is {peak} °F; it must be above 32 °F and below" in answer["error"]
    assert post(cook, "sears", key="e4", turns_s=[60], outcome=None, peak=None, place=None, note="") == (
        201,
        {"row": 2},
    )


def test_a_queued_shot_keeps_its_time_within_reason(opened, cook):
    tapped = datetime.now(UTC) - timedelta(minutes=5)
    assert shoot(cook, "k1", "B2", 580, taken_at=tapped.isoformat().replace("+00:00", "Z"))[0] == 201
    assert abs(rows(opened.folder)[0].taken_at - tapped) < timedelta(milliseconds=2)
    for moment in (datetime.now(UTC) + timedelta(minutes=2), datetime.now(UTC) - timedelta(days=2)):
        status, body = shoot(cook, "k2", "A1", 562, taken_at=moment.isoformat())
        assert status == 400 and body["error"].startswith("taken_at is ")
    assert len(rows(opened.folder)) == 1


def test_two_phones_at_once_each_entry_once(opened):
    phones = [opened.client(), opened.client()]
    answers = []

    def tap(number, phone):
        for index, label in enumerate(WALK):
            answers.append(shoot(phone, f"p{number}-{index}", label, NUMBERS[label] + number))
            answers.append(shoot(phone, f"p{number}-{index}", label, NUMBERS[label] + number))

    threads = [threading.Thread(target=tap, args=given) for given in enumerate(phones)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert sorted(status for status, _ in answers) == [200] * 24 + [201] * 24
    assert sorted(standing(opened)) == sorted((label, NUMBERS[label] + n) for label in WALK for n in (0, 1))
    assert len({one.id for one in rows(opened.folder)}) == 24


def test_a_full_disk_is_said_and_the_entry_can_come_again(opened, cook, monkeypatch):
    from heatmap.readings import log

    def full(*_, **__):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(log, "append_to", full)
        status, body = shoot(cook, "k1", "B2", 580)
    assert status == 500 and "the disk is full" in body["error"] and "was NOT written" in body["error"]
    assert cook.get("/api/state").json()["session"]["next"]["position"] == "B2"
    assert shoot(cook, "k1", "B2", 580)[0] == 201


# What is shown


@pytest.mark.usefixtures("fine_cells")
def test_the_state_says_map_and_decision_as_the_other_commands_do(opened, cook, gratemap):
    for index, label in enumerate(WALK):
        shoot(cook, f"k{index}", label, NUMBERS[label])
    state = opened.state_when(lambda one: not one["pending"] and one["map"])
    named = ("--grill", str(opened.folder / "grill.toml"), "--readings", str(opened.folder / "readings.csv"))
    document = json.loads(gratemap("map", *named, "--json", "--surface").stdout)
    assert state["map"]["answer"] == document["answer"]
    assert state["decision"]["sentence"] == document["decision"]["sentence"]
    assert state["decision"]["do"] == document["decision"]["do"]
    verdicts = {one["id"]: one["verdict"] for one in document["spots"]}
    assert {one["id"]: one["verdict"] for one in state["spots"]} == verdicts
    assert state["map"]["x"] == pytest.approx(document["surface"]["x_in"])
    assert len(state["map"]["mean"]) == len(state["map"]["y"]) == 36
    assert state["session"]["complete"] and state["session"]["shots"] == 12
    clock = state["turn_clock"]
    assert clock["seconds"] == pytest.approx(opened_seconds(gratemap, named), abs=0.5)
    assert clock["turns"] == 4 and clock["headings"] == [2, 10] and clock["what"][0] == "set it down, heading 2"
    assert len(json.dumps(state)) < 64 * 1024
    lines = cook.get("/api/explain/b2").json()
    assert lines["position"] == "B2" and len(lines["lines"]) == 3
    assert lines["lines"][0] == "B2: the gun showed 580 °F."
    assert cook.get("/api/explain/Z9").status_code == 400


def opened_seconds(gratemap, named):
    return json.loads(gratemap("sear", *named, "--json").stdout)["seconds_per_turn"]


def test_before_there_is_a_map_it_says_what_to_shoot(opened, cook):
    assert cook.get("/api/explain/B2").status_code == 400
    state = cook.get("/api/state").json()
    assert state["map"] is None
    assert state["decision"]["sentence"].startswith("Shoot B2, A1, C4, A4 and C1")
    assert state["grill"]["food"] == {"length": 7.5, "width": 5.0, "headings": None, "turns": None}
    assert state["grill"]["no_seconds"] is None
    assert state["session"]["heading"] == "Round 1, 0 of 12 shot, lid open"


def test_a_turn_of_the_knobs_makes_it_wait(opened, cook):
    for index, label in enumerate(WALK):
        shoot(cook, f"k{index}", label, NUMBERS[label])
    post(cook, "turned", key="t1", marks={"left": 6.5})
    state = opened.state_when(lambda one: not one["pending"])
    assert state["decision"]["do"] == "wait"
    assert datetime.fromisoformat(state["decision"]["until"]) > datetime.now(UTC)
    assert state["decision"]["headline"].startswith("Wait until ")


def test_the_state_stays_small_however_much_a_gun_on_a_cable_sends(opened, cook):
    from heatmap.readings.typed import Shot

    opened.desk.board.want = lambda *_: None  # a map of so many takes long, and its size is another matter
    items = tuple(Shot(shown_c=300.0 + at % 7, position=WALK[at % 12]) for at in range(2000))
    opened.sitting.hear(items)
    opened.desk.changed()
    answer = cook.get("/api/state")
    assert len(answer.content) < 40 * 1024  # a map of 1,728 cells comes to 12 KiB
    assert answer.json()["spots"][-1]["id"] == 2000


# Who is let in


def test_a_token_is_exchanged_for_a_strict_cookie(opened):
    client = opened.client("")
    answer = client.get(f"/t/{opened.server.kept.cook}")
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    words = {word.strip().lower() for word in answer.headers["set-cookie"].split(";")}
    assert {"httponly", "samesite=strict", "path=/"} <= words
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert client.get("/api/state").json()["watching"] is False


@pytest.mark.parametrize("path", ["/", "/api/state", "/api/events", "/api/explain/B2"])
def test_nobody_looks_without_a_token(opened, path):
    assert opened.client("").get(path).status_code == 401
    wrong = opened.client("")
    wrong.cookies[opened.server.kept.cookie] = "x" * 32
    answer = wrong.get(path)
    assert answer.status_code == 401 and list(answer.json()) == ["error"]


@pytest.mark.parametrize("what", ["shots", "void", "turned", "round", "skip", "sears"])
def test_who_watches_cannot_enter_and_who_has_no_token_neither(opened, what):
    entry = {"key": "k1", "position": "B2", "shown": 580, "marks": {"left": 3}, "kind": "full", "turns_s": [60]}
    watcher = opened.client(opened.server.kept.watch)
    assert watcher.get("/api/state").json()["watching"] is True
    assert post(watcher, what, **entry) == (
        401, {"error": "this address is for watching; the cook's own address enters readings"}
    )  # fmt: skip
    assert post(opened.client(""), what, **entry)[0] == 401
    assert rows(opened.folder) == ()


def test_wrong_tokens_are_slowed_down_and_the_right_one_still_works(opened, monkeypatch):
    monkeypatch.setattr(tuning, "WRONG_DELAY_S", 0.0)
    client = opened.client("")
    statuses = [client.get(f"/t/{'x' * 31}{index:x}").status_code for index in range(15)]
    assert statuses == [401] * tuning.WRONG_TOKENS + [429] * (15 - tuning.WRONG_TOKENS)
    assert client.get("/t/wrong").headers["retry-after"] == "60"
    assert opened.client().get("/api/state").status_code == 200


def test_tokens_are_long_two_and_for_the_owner_alone(opened):
    kept = opened.server.kept
    assert kept.cook != kept.watch
    assert min(len(kept.cook), len(kept.watch)) * 6 >= 128  # base64: 6 bits a sign
    assert (opened.folder / ".readings.csv.page").stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("host", ["evil.example", "evil.example:80", "127.0.0.1", "127.0.0.1:1", ""])
def test_another_host_is_refused(opened, cook, host):
    answer = cook.get("/api/state", headers={"Host": host})
    assert answer.status_code == 400 and list(answer.json()) == ["error"]


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://{host}", "http://{host}.evil.example"])
def test_another_origin_is_refused(opened, cook, origin):
    entry = {"key": "k1", "position": "B2", "shown": 580}
    answer = cook.post("/api/shots", json=entry, headers={"Origin": origin.format(host=opened.host)})
    assert answer.status_code == 400
    assert rows(opened.folder) == ()
    own = cook.post("/api/shots", json=entry, headers={"Origin": f"http://{opened.host}"})
    assert own.status_code == 201


@pytest.mark.parametrize("path", ["/api/state", "/t/wrong", "/nothing", "/static/nothing.js"])
def test_every_answer_has_the_headers_that_keep_others_out(cook, path):
    headers = cook.get(path).headers
    assert headers["content-security-policy"].startswith("default-src 'self'")
    assert headers["x-content-type-options"] == "nosniff"
    assert not [name for name in headers if name.startswith("access-control-")]


def test_markup_in_a_name_stays_text(cook):
    answer = cook.get("/api/state")
    assert answer.headers["content-type"] == "application/json"
    assert answer.json()["grill"]["name"] == "terrace <script>alert(1)</script>"
    status, body = post(cook, "shots", key="k1", typed="note <img src=x onerror=alert(1)>")
    assert (status, body["kept"]) == (201, "Noted: <img src=x onerror=alert(1)>")


@pytest.mark.parametrize(
    ("method", "path"), [("GET", "/nothing"), ("GET", "/api/shots"), ("DELETE", "/api/state"), ("HEAD", "/api/events")]
)
def test_what_is_not_there_is_one_line_of_json(cook, method, path):
    answer = cook.request(method, path)
    assert answer.status_code in (404, 405)
    assert list(answer.json()) == ["error"] and "\n" not in answer.json()["error"]


@pytest.mark.parametrize(
    "path", ["/static/../app.py", "/static/%2e%2e/app.py", "/static//etc/passwd", "/static/%00", "/t/../api/state"]
)
def test_no_way_leads_out_of_the_folder_of_the_page(cook, path):
    assert cook.get(path).status_code in (401, 404)


def test_a_bug_is_said_in_one_line_and_the_session_goes_on(opened, cook, monkeypatch):
    def broken(*_):
        raise RuntimeError("secret /path")

    with monkeypatch.context() as patched:
        patched.setattr(opened.desk, "_do", broken)
        answer = cook.post("/api/skip", json={"key": "s1"})
    assert answer.status_code == 500
    assert answer.json() == {"error": "this is a bug, not your doing; what was acknowledged is safe"}
    assert shoot(cook, "k1", "B2", 580)[0] == 201


# Bodies


def test_a_body_of_64_kib_is_read_and_one_byte_more_is_not(opened, cook):
    def body(size):
        entry = b'{"key":"k1","position":"B2","shown":580,"pad":"%s"}'
        return entry % (b"x" * (size - len(entry) + 2))

    assert len(body(65536)) == 65536
    answer = cook.post("/api/shots", content=body(65537))
    assert answer.status_code == 413 and list(answer.json()) == ["error"]
    assert cook.post("/api/shots", content=iter([body(65537)])).status_code == 413  # without its length
    assert rows(opened.folder) == ()
    assert cook.post("/api/shots", content=body(65536)).status_code == 201


ODD = [
    b"", b"null", b"[]", b'"x"', b"{", b"\xff\xfe", b"[" * 30_000, b'{"key":' * 9000, b'{"key":"k","shown":NaN}',
    b'{"key":"k","position":"B2","shown":1e999}', b'{"key":"k","position":"B2","shown":' + b"9" * 5000 + b"}",
    b'{"key":"k","position":"B2","shown":' + b"9" * 400 + b"}", b'{"key":"k","position":"B2","shown":true}',
    b'{"key":"k","position":"B2","shown":"582"}', b'{"key":"","position":"B2","shown":582}',
    b'{"key":"a,b","position":"B2","shown":582}', b'{"key":["k"],"position":"B2","shown":582}',
    b'{"position":"B2","shown":582}', b'{"key":"k","position":2,"shown":582}', b'{"key":"k","position":"B2"}',
    b'{"key":"k","position":"B2","shown":582,"aim":"turned"}', b'{"key":"k","position":"B2","shown":582,"aim":[]}',
    b'{"key":"k","position":"B2","shown":582,"insist":"yes"}', b'{"key":"k","position":"B2","shown":-400}',
    b'{"key":"k","position":"B2","shown":582,"taken_at":"yesterday"}', b'{"key":"k","typed":"\\ud800"}',
    b'{"key":"k","position":"B2","shown":582,"taken_at":5}', b'{"key":"k","typed":"B2 582\\nB3 590"}',
    b'{"key":"k","position":"B2","shown":582,"round":-1}', b'{"key":"k","marks":{}}', b'{"key":"k","turns_s":[[60]]}',
]  # fmt: skip


@pytest.mark.parametrize("body", ODD, ids=lambda body: repr(body[:40]))
def test_a_body_that_cannot_be_is_one_clear_line(opened, cook, body):
    for what in ("shots", "turned", "sears"):
        answer = cook.post(f"/api/{what}", content=body)
        assert answer.status_code == 400, (what, answer.text)
        assert list(answer.json()) == ["error"] and "\n" not in answer.json()["error"]
    assert rows(opened.folder) == ()


def test_random_bodies_do_nothing(opened, cook):
    rng = random.Random(18)
    entry = b'{"key":"k1","position":"B2","aim":"rail","shown":582,"taken_at":null,"replaces":false}'
    for _ in range(300):
        body = bytearray(entry if rng.random() < 0.7 else rng.randbytes(rng.randrange(200)))
        for _ in range(rng.randrange(1, 6)):
            if body:
                body[rng.randrange(len(body))] = rng.randrange(256)
        what = rng.choice(["shots", "turned", "sears", "void", "skip"])
        answer = cook.post(f"/api/{what}", content=bytes(body))
        assert answer.status_code in (200, 201, 400, 409), (body, answer.text)
        assert isinstance(answer.json(), dict) and "Traceback" not in answer.text
    for one in rows(opened.folder):  # a body may still have been sound
        assert one.aim == "turned" or one.shown_c is None or -60 <= one.shown_c <= 1100


# What time alone changes


def test_when_a_wait_is_over_it_is_decided_anew_by_itself_and_only_then(opened, cook, monkeypatch):
    waits, others = [], []
    mapping, plain = opened.desk.board, opened.desk.board._decide

    def decide(found):
        decision = plain(found)
        if decision.do != "wait":
            return decision
        if waits:
            others.append(1)
            return replace(decision, do="stuck", until=None)
        waits.append(1)
        return replace(decision, until=datetime.now(UTC).astimezone() + timedelta(seconds=0.3))

    monkeypatch.setattr(mapping, "_decide", decide)
    for index, label in enumerate(WALK):
        shoot(cook, f"k{index}", label, NUMBERS[label])
    opened.state_when(lambda one: not one["pending"])
    post(cook, "turned", key="t1", marks={"left": 6.5})
    opened.state_when(lambda one: one["decision"] and one["decision"]["do"] == "stuck")
    time.sleep(1.5)
    assert (waits, others) == ([1], [1])


def test_a_round_of_readings_that_are_gone_is_not_gone_on_with(folder):
    first = Opened(folder)
    cook = first.client()
    for number in (1, 2, 3):
        shoot(cook, f"k{number}", "B2", 580)
        post(cook, "round", key=f"r{number}", kind="full")
    token = first.server.kept.cook
    first.close()
    (folder / "readings.csv").unlink()
    second = Opened(folder)
    assert (second.sitting.session.number, second.server.kept.cook) == (1, token)
    second.close()


def test_a_round_begun_after_a_turn_stands_at_the_turned_marks_after_a_restart(folder):
    first = Opened(folder)
    cook = first.client()
    post(cook, "shots", key="k1", typed="knob left 6.5")
    shoot(cook, "k2", "B2", 580)
    post(cook, "turned", key="t1", marks={"left": 4})
    post(cook, "round", key="r1", kind="full")
    first.close()
    second = Opened(folder)
    assert (second.sitting.session.number, second.sitting.session.knobs["left"]) == (2, 4.0)
    second.close()


def test_without_a_peak_that_is_wanted_the_page_says_why_there_are_no_seconds(opened):
    grill = opened.sitting.session.grill
    unsaid = replace(grill, food=replace(grill.food, target_c=None))
    said = grill_part(Session(unsaid, WALK, number=1, name="today"))["no_seconds"]
    assert said.startswith("No seconds")
    assert "target under [food]" in said


def test_the_turn_clock_turns_the_food_over_as_often_as_its_seconds_are_for(folder):
    with (folder / "grill.toml").open("a", encoding="utf-8") as file:
        file.write('sides = "ABAB"\n')  # [food] stands last there
    opened = Opened(folder)
    cook = opened.client()
    for index, label in enumerate(WALK):
        shoot(cook, f"k{index}", label, NUMBERS[label])
    clock = opened.state_when(lambda one: not one["pending"] and one["turn_clock"])["turn_clock"]
    opened.close()
    assert [told.partition(",")[0] for told in clock["what"]] == ["set it down", *["turn it over"] * 3]
