"""The phone page in a real browser: a session by taps alone, out of reach and back, two phones, every screen.

The browser is Debian's Chromium, driven by Playwright; the server is the real command on a fresh grill file.
"""

from __future__ import annotations

import contextlib
import csv
import io
import os
import re
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from phone import PATIENCE_S
from started import PIPE, Started

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page
else:
    with contextlib.suppress(ImportError):  # without it the browser's fixture skips
        from playwright.sync_api import expect

HERE = Path(__file__).parent
GRILL = """
name = "four burners by the wall"
[grate]
width = 24.0
depth = 16.0
[[burner]]
name = "far left"
from = [3.0, 1.5]
to = [3.0, 14.5]
[[burner]]
name = "inner left"
from = [9.0, 1.5]
to = [9.0, 14.5]
[[burner]]
name = "inner right"
from = [15.0, 1.5]
to = [15.0, 14.5]
[[burner]]
name = "far right"
from = [21.0, 1.5]
to = [21.0, 14.5]
[target]
low = 550.0
high = 600.0
[food]
size = [7.5, 5.0]
headings = [2, 10]
turns = 4
thickness = 1.25
start = 60.0
target = 130.0
"""
VIEWS = ("shoot", "map", "do", "food", "watch")
#: Phones upright and lying, with the browser's own bars taken off the smallest; and a tablet or laptop.
SCREENS = {
    "narrow": (320, 568),
    "lying": (568, 320),
    "phone": (390, 664),
    "phone lying": (664, 390),
    "wide": (1200, 800),
    "wide upright": (800, 1200),
}
#: A grate too hot, on the right most of all, as a cook may find it; and the same in band.
FIRST = dict(A1=622, A2=631, A3=648, A4=678, B1=626, B2=637, B3=654, B4=685, C1=619, C2=628, C3=646, C4=671)
SECOND = dict(A1=565, A2=572, A3=579, A4=583, B1=566, B2=577, B3=580, B4=588, C1=559, C2=570, C3=577, C4=581)
COUNTED = """
window.heard = {spoken: [], buzzed: 0, beeped: 0};
navigator.vibrate = () => { window.heard.buzzed += 1; return true; };
const tone = AudioContext.prototype.createOscillator;
AudioContext.prototype.createOscillator = function () { window.heard.beeped += 1; return tone.call(this); };
Object.defineProperty(window, "speechSynthesis", {
  value: {cancel() {}, speak: (words) => window.heard.spoken.push(words.text)},
});
"""


class Laptop:
    """The command beside the grill, in a folder of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.port = 0
        self.process: Started | None = None
        self.start()

    def start(self) -> None:
        words = ("page", "--port", str(self.port), "--say-url")
        with (self.folder / "talk.txt").open("a") as talk:
            self.process = Started(*words, cwd=self.folder, stdout=PIPE, stderr=talk, text=True)
        assert self.process.stdout is not None
        found: list[str] = []
        while len(found) < 2:
            line = self.process.stdout.readline()
            assert line, (self.folder / "talk.txt").read_text()
            found += re.findall(r"http://\S+", line)
        self.cook, self.watch = found
        self.port = int(found[0].split(":")[2].split("/")[0])

    def kill(self, how: int = signal.SIGKILL) -> None:
        assert self.process is not None
        self.process.send_signal(how)
        self.process.wait()

    @property
    def rows(self) -> list[dict[str, str]]:
        path = self.folder / "readings.csv"
        return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8")))) if path.exists() else []

    @property
    def shots(self) -> list[tuple[str, float]]:
        """What stands in the readings file and was not taken back, in order."""
        void = {row["void"] for row in self.rows if row.get("void")}
        return [
            (row["position"], float(row["shown_f"]))
            for row in self.rows
            if row["shown_f"] and row.get("id") not in void and row.get("aim", "rail") in ("", "rail")
        ]


class Phone:
    """A page and the thumb on it."""

    def __init__(self, page: Page, address: str) -> None:
        self.page = page
        page.goto(address)
        page.wait_for_selector("main > section:not([hidden])")

    def see(self, view: str) -> None:
        self.page.click(f"nav a[href='#{view}']")

    def tap(self, number: float) -> None:
        for digit in str(number):
            self.page.click(f"[data-digit='{digit}']")
        self.page.click("#enter")

    @property
    def asked(self) -> str:
        return self.page.inner_text("#asked")

    def kept(self, text: str) -> None:
        expect(self.page.locator("#kept")).to_have_text(text)

    def shoot(self, numbers: dict[str, int], count: int = 99, *, keys: bool = False) -> None:
        """Tap what the gun would show wherever the page asks for it; with keys, which is quicker for a test."""
        for _ in range(min(count, len(numbers))):
            position = self.asked
            if keys:
                self.page.keyboard.type(f"{numbers[position]}\n")
            else:
                self.tap(numbers[position])
            self.kept(f"Kept: {position} {numbers[position]}")

    def decided(self) -> dict[str, Any]:
        """Wait until the whole round is mapped and decided on; return what the server says then."""
        state: dict[str, Any] = {"pending": True}
        while state["pending"] or not (state["map"] and state["decision"] and state["session"]["complete"]):
            state = self.page.evaluate("fetch('/api/state').then((answer) => answer.json())")
        return state

    def text(self, selector: str) -> str:
        return self.page.inner_text(selector)


def surely(page: Page, key: str) -> None:
    """Tap what asks first, and again at once where it asks: four seconds later that is forgotten."""
    page.eval_on_selector(key, "(key) => { key.click(); if (key.textContent.endsWith('?')) key.click(); }")


@pytest.fixture
def laptop(tmp_path: Path) -> Iterator[Laptop]:
    (tmp_path / "grill.toml").write_text(GRILL, encoding="utf-8")
    found = Laptop(tmp_path)
    yield found
    found.kill(signal.SIGTERM)
    assert "Traceback" not in (tmp_path / "talk.txt").read_text()


class Pocket:
    """Makes phones' browsers; at the end no page may have failed, or have asked any other host for anything."""

    def __init__(self, browser: Browser) -> None:
        self.browser = browser
        self.made: list[BrowserContext] = []
        self.asked: set[str] = set()
        self.wrong: list[str] = []

    def __call__(self, screen: str = "phone", **different: object) -> BrowserContext:
        width, height = SCREENS[screen]
        size = {"width": width, "height": height}
        context = self.browser.new_context(viewport=size, **different)  # type: ignore[arg-type]
        context.set_default_timeout(1000.0 * PATIENCE_S)
        context.add_init_script(COUNTED)
        context.on("request", lambda request: self.asked.add(request.url))
        context.on("weberror", lambda error: self.wrong.append(str(error.error)))
        # A failed request is told on the console too, and is what some of these tests are about.
        context.on("console", lambda line: "Failed to load" in line.text or self.wrong.append(line.text))
        self.made.append(context)
        return context

    def close(self) -> None:
        for context in self.made:
            context.close()
        assert self.wrong == []
        assert {re.sub(r":\d+/.*", "", url) for url in self.asked} <= {"http://127.0.0.1"}


@pytest.fixture
def pocket(browser: Browser) -> Iterator[Pocket]:
    found = Pocket(browser)
    yield found
    found.close()


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory, browser: Browser) -> Iterator[Phone]:
    """A phone before a whole round in band, for whoever only looks; one for all of them, since a page costs time."""
    folder = tmp_path_factory.mktemp("shot")
    (folder / "grill.toml").write_text(GRILL, encoding="utf-8")
    laptop, pocket = Laptop(folder), Pocket(browser)
    phone = Phone(pocket().new_page(), laptop.cook)
    phone.shoot(SECOND, keys=True)
    state = phone.decided()
    phone.see("map")  # the map that follows the last shot has to be there, not only one of fewer
    expect(phone.page.locator("#map-answer")).to_have_text(state["map"]["answer"])
    phone.see("shoot")
    yield phone
    pocket.close()
    laptop.kill(signal.SIGTERM)


def resized(phone: Phone, screen: str) -> Phone:
    width, height = SCREENS[screen]
    phone.page.set_viewport_size({"width": width, "height": height})
    phone.page.evaluate("document.querySelectorAll('dialog[open]').forEach((sheet) => sheet.close())")
    phone.page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    return phone


def test_a_whole_session_by_taps(laptop: Laptop, pocket: Pocket) -> None:
    page = pocket().new_page()
    page.clock.install()
    phone = Phone(page, laptop.cook)
    assert re.search("/t/", page.url) is None, "the token has left the address bar"

    page.click("#turned")
    for _ in range(2):
        page.click("[aria-label='all higher']")
    page.click("#stand-so")
    phone.shoot(FIRST, 4)
    position = phone.asked
    phone.tap(FIRST[position] // 10)  # a slip: two digits of three
    expect(page.locator("#question-text")).to_contain_text(position)
    assert len(laptop.shots) == 4, "a number in doubt is not kept"
    page.click("#answers button:has-text('Again')")
    assert phone.asked == position
    phone.shoot(FIRST, 1)
    page.click("#undo")
    phone.kept(f"Taken back: {position} {FIRST[position]}")
    assert (position, FIRST[position]) not in laptop.shots
    if phone.asked != position:
        page.click("#small-grate")
        page.click(f"#pick-places button:text-is('{position}')")
    phone.shoot(FIRST, 8)
    expect(page.locator("#round-over")).to_be_visible()
    assert dict(laptop.shots) == FIRST

    page.click("#over-do")
    expect(page.locator("#do-sentence")).to_contain_text("Turn ")
    page.click("#do-buttons button:text-is('Turned')")
    expect(page.locator(".knob output")).to_have_count(5)
    page.click("#turned-now")
    expect(page.locator("#do-until")).to_have_text(re.compile(r"until \d\d:\d\d"))
    assert phone.text("#do-until").removeprefix("until ") in phone.text("#do-sentence")
    minutes, seconds = map(int, phone.text("#do-left").split(":"))
    before = 60 * minutes + seconds
    page.clock.fast_forward(30_000)
    minutes, seconds = map(int, phone.text("#do-left").split(":"))
    assert 28 <= before - (60 * minutes + seconds) <= 36
    assert [row for row in laptop.rows if row["aim"] == "turned"]

    phone.see("shoot")
    page.click("#round-over [data-round='full']")
    phone.kept("Round 2")
    phone.shoot(SECOND, 2)
    phone.shoot(SECOND, 10, keys=True)  # taps of the same keys, a quarter of the time
    offered = phone.decided()["turn_clock"]  # by all shots: by the last but one they may be others
    phone.see("food")
    expect(page.locator("#food-words")).not_to_have_text("")
    expect(page.locator("#food-seconds")).to_have_text(re.compile(rf"{round(offered['seconds'])} s a turn"))
    seconds = int(re.match(r"(\d+) s a turn", phone.text("#food-seconds"))[1])  # type: ignore[index]
    expect(page.locator("#food-picture .food")).not_to_have_count(0)
    page.click("#turn")
    assert abs(int(phone.text("#turn-number")) - seconds) <= 1
    for turn in range(4):
        expect(page.locator("#turn-what")).to_have_text(f"Turn {turn + 1} of 4")
        page.clock.fast_forward(seconds * 1000 + 2000)  # a screen that slept through it
        expect(page.locator("#turn-number")).to_have_text(re.compile(r"\+[2-4]"))
        assert page.locator("#turn").evaluate("one => one.classList.contains('over')")
        if turn == 1:
            page.reload()
            expect(page.locator("#turn-number")).to_have_text(re.compile(r"\+[2-9]"))
        page.click("#turn")
    assert page.evaluate("heard.beeped") >= 3
    assert page.evaluate("heard.buzzed") >= 3
    page.reload()  # the phone learns what time it is
    page.click("[data-outcome='right']")
    page.fill("#peak", "131")
    page.fill("#word", "good crust")
    page.click("#outcome button[type='submit']")
    expect(page.locator("#turn-number")).to_have_text("Start")
    expect(page.locator("#food-said")).to_contain_text("right")
    expect(page.locator("#reach")).to_have_text("")
    path = laptop.folder / "sears.csv"
    page.wait_for_function("() => !Object.keys(localStorage).some((name) => name.startsWith('gratemap.entry'))")
    (row,) = csv.DictReader(io.StringIO(path.read_text(encoding="utf-8")))
    assert row["outcome"] == "right" and float(row["peak"]) == 131 and row["note"].startswith("good crust")
    times = [float(one) for one in re.findall(r"[\d.]+", row["turns_s"])]
    assert len(times) == 4 and all(seconds + 1 <= one <= seconds + 8 for one in times)


def test_out_of_reach_and_back(laptop: Laptop, pocket: Pocket) -> None:
    context = pocket()
    page = context.new_page()
    phone = Phone(page, laptop.cook)
    phone.shoot(FIRST, 2)
    context.set_offline(True)
    expect(page.locator("#reach")).to_contain_text("Out of reach")
    order = []
    for _ in range(3):
        order.append(phone.asked)
        phone.tap(FIRST[phone.asked])
        expect(page.locator("#asked")).not_to_have_text(order[-1])
    assert len(set(order)) == 3, "it goes on to the next position by itself"
    expect(page.locator("#reach")).to_contain_text("3 wait")
    assert len(laptop.shots) == 2
    phone.tap(42)  # nobody can ask about it yet
    page.click("#undo")
    expect(page.locator("#reach")).to_contain_text("3 wait")
    for back in reversed(order):  # the last of them was sent for already, so that its end nobody knows
        page.click("#undo")
        expect(page.locator("#asked")).to_have_text(back)
    for position in order:
        expect(page.locator("#asked")).to_have_text(position)
        phone.tap(FIRST[position])
    expect(page.locator("#asked")).not_to_have_text(order[-1])
    doubtful = phone.asked
    phone.tap(57)
    phone.tap(FIRST[phone.asked])
    expect(page.locator("#reach")).to_contain_text("7 wait")

    page.close()  # the phone is put away
    context.set_offline(False)
    page = context.new_page()
    phone = Phone(page, f"http://127.0.0.1:{laptop.port}/")
    expect(page.locator("#question-text")).to_contain_text(doubtful)
    assert [position for position, _ in laptop.shots[2:]] == order, "sent in order"
    expect(page.locator("#reach")).to_have_text("Question, 1 waits")
    page.reload()
    expect(page.locator("#question-text")).to_contain_text(doubtful)
    phone.tap(575)  # the right number
    expect(page.locator("#question")).to_be_hidden()
    expect(page.locator("#reach")).to_have_text("")
    page.wait_for_function("() => !Object.keys(localStorage).some((name) => name.startsWith('gratemap.entry'))")
    assert laptop.shots[5] == (doubtful, 575)
    assert len(laptop.shots) == len(set(laptop.shots)) == 7

    context.set_offline(True)  # a whole new round begins out of reach
    page.click("#more")
    surely(page, "#more-sheet [data-round='full']")
    first = phone.asked
    phone.tap(FIRST[first])
    assert phone.asked not in ("", first)
    context.set_offline(False)
    expect(page.locator("#heading")).to_contain_text("Round 2, 1 of 12")
    assert (laptop.rows[-1]["round"], laptop.shots[-1]) == ("2", (first, FIRST[first]))


def test_a_laptop_that_died_and_came_back(laptop: Laptop, pocket: Pocket) -> None:
    page = pocket().new_page()
    phone = Phone(page, laptop.cook)
    phone.shoot(FIRST, 3)
    laptop.kill()
    for _ in range(2):
        phone.tap(FIRST[phone.asked])
    expect(page.locator("#reach")).to_contain_text("2 wait")
    laptop.start()
    expect(page.locator("#reach")).to_have_text("")
    assert len(laptop.shots) == 5
    phone.shoot(FIRST, 1)
    assert dict(laptop.shots).items() <= FIRST.items() and len(laptop.shots) == 6


def test_two_phones_and_one_that_watches(laptop: Laptop, pocket: Pocket) -> None:
    one, other = (Phone(pocket().new_page(), laptop.cook) for _ in range(2))
    watching = Phone(pocket("narrow").new_page(), laptop.watch)
    position = one.asked
    assert other.asked == position
    one.tap(571)
    one.kept(f"Kept: {position} 571")
    expect(other.page.locator("#asked")).not_to_have_text(position)
    other.page.click("#more")
    other.page.click("[data-pick='repeat']")
    other.page.click(f"#pick-places button:text-is('{position}')")
    other.tap(575)
    other.kept(f"Kept: {position} 575")
    assert laptop.shots == [(position, 571), (position, 575)], "the second is kept beside the first"
    one.page.click("#more")
    one.page.click("[data-pick='replace']")
    one.page.click(f"#pick-places button:text-is('{position}')")
    one.tap(573)
    one.kept(f"Kept: {position} 573")
    assert laptop.shots == [(position, 573)], "it replaces what was kept there"

    expect(watching.page.locator("#watch-headline")).not_to_be_empty()
    expect(watching.page.locator("nav")).to_be_hidden()
    watching.page.goto(f"http://127.0.0.1:{laptop.port}/#shoot")
    expect(watching.page.locator("#shoot")).to_be_hidden()
    body = "{method: 'POST', body: JSON.stringify({key: 'k', position: 'A1', aim: 'rail', shown: 570})}"
    assert watching.page.evaluate(f"fetch('/api/shots', {body}).then((answer) => answer.status)") == 401
    assert laptop.shots == [(position, 573)]


def test_what_is_said_into_the_field(laptop: Laptop, pocket: Pocket) -> None:
    page = pocket().new_page()
    phone = Phone(page, laptop.cook)
    page.fill("#typed", "B two five eighty two")
    page.press("#typed", "Enter")
    phone.kept("Kept: B2 582")
    said = "the <b>dog</b> <img src=x> barks"
    page.fill("#typed", said)
    page.press("#typed", "Enter")
    expect(page.locator("#question")).to_be_visible()
    assert page.input_value("#typed") == said, "shown, and left for the cook to put right"
    assert page.locator("#question-text b, main img").count() == 0, "markup is only letters here"
    assert laptop.shots == [("B2", 582)]
    page.fill("#typed", "C3 577")
    page.press("#typed", "Enter")
    phone.kept("Kept: C3 577")
    page.click("#more")
    page.click("[data-aim='contact']")
    assert phone.text("#how") == "contact"
    phone.tap(588)
    expect(page.locator("#kept")).to_contain_text("588")
    assert laptop.rows[-1]["aim"] == "contact"
    page.click("#more")
    page.click("[data-aim='patch']")
    phone.tap(560)
    expect(page.locator("#kept")).to_contain_text("560")
    assert laptop.rows[-1]["aim"] == "patch"
    page.click("#more")
    surely(page, "#more-sheet [data-round='full']")
    phone.kept("Round 2")
    expect(page.locator("#heading")).to_contain_text("0 of 12")


def test_it_speaks_only_when_it_is_asked_to(laptop: Laptop, pocket: Pocket) -> None:
    page = pocket().new_page()
    phone = Phone(page, laptop.cook)
    phone.shoot(FIRST, 1)
    assert page.evaluate("heard.spoken") == []
    page.click("#more")
    page.click("#more-sheet [data-speech]")
    page.click("#more-sheet [data-close]")
    position = phone.asked
    phone.shoot(FIRST, 1)
    following = phone.asked
    said = page.evaluate("heard.spoken")[-1]
    assert f"{position[0]} {position[1:]} {FIRST[position]}" in said and f"{following[0]} {following[1:]}" in said


def test_nothing_is_asked_for_by_a_tab_in_the_background(laptop: Laptop, pocket: Pocket) -> None:
    page = pocket().new_page()
    phone = Phone(page, laptop.cook)
    other = Phone(pocket().new_page(), laptop.cook)
    first = phone.asked
    turn = "Object.defineProperty(document, 'hidden', {{value: {}, configurable: true}});"
    turn += "document.dispatchEvent(new Event('visibilitychange'));"
    page.evaluate(turn.format("true"))
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    other.shoot(FIRST, 2)
    page.wait_for_timeout(300)
    assert asked == [] and phone.asked == first, "its line is closed"
    page.evaluate(turn.format("false"))
    expect(page.locator("#asked")).to_have_text(other.asked)


#: What cannot be acted on as it stands: a key outside the screen, cut off by what it lies in, or under something else.
OUT_OF_REACH = """() => [...document.querySelectorAll("button, a, input")].filter((key) => {
  if (!key.checkVisibility() || key.disabled) return false;
  if (document.querySelector("dialog[open]") && !key.closest("dialog[open]")) return false;
  const box = key.getBoundingClientRect();
  const [x, y] = [(box.left + box.right) / 2, (box.top + box.bottom) / 2];
  const edges = [[box.left + 4, y], [box.right - 4, y], [x, box.top + 4], [x, box.bottom - 4]];
  if (key.scrollWidth > key.clientWidth + 1 && key.tagName !== "INPUT") return true;
  const points = [[x, y], ...(key.closest(".places") ? [] : edges)];
  return points.some((point) => !key.contains(document.elementFromPoint(...point)));
}).map((key) => key.id || key.textContent)"""
SMALL = """() => [...document.querySelectorAll("#pad button, nav a, dialog button")]
  .filter((key) => key.checkVisibility())
  .map((key) => key.getBoundingClientRect()).filter((box) => Math.min(box.width, box.height) < 55.5).length"""
SIDEWAYS = "[document.documentElement].some((one) => one.scrollWidth > innerWidth || one.scrollHeight > innerHeight)"
GREY = """() => [...document.querySelectorAll("body *")]
  .filter((one) => one.checkVisibility() && one.textContent.trim())
  .map((one) => getComputedStyle(one).color)
  .filter((one) => !["rgb(17, 17, 17)", "rgb(255, 255, 255)"].includes(one))"""


@pytest.mark.parametrize("screen", SCREENS)
def test_nothing_needs_a_scroll_to_act(shown: Phone, screen: str) -> None:
    phone, page = resized(shown, screen), shown.page
    for view in VIEWS:
        phone.see(view)
        expect(page.locator(f"#{view}")).to_be_visible()
        assert page.evaluate(OUT_OF_REACH) == [], view
        assert not page.evaluate(SIDEWAYS), view
        assert page.evaluate(GREY) == [], view
    phone.see("food")
    page.click("#turn")
    assert page.evaluate(OUT_OF_REACH) == [], "the clock"
    page.wait_for_timeout(1100)
    page.click("#turn-stop")
    expect(page.locator("#turn-number")).to_be_visible()  # the first tap only asks
    surely(page, "#turn-stop")
    expect(page.locator("#outcome")).to_be_visible()
    assert page.evaluate(OUT_OF_REACH) == [], "the outcome"
    surely(page, "#outcome-drop")
    phone.see("shoot")
    assert page.evaluate(SMALL) == 0
    for opener, sheet in (("#more", "#more-sheet"), ("#turned", "#turned-sheet")):
        page.click(opener)
        assert page.evaluate(OUT_OF_REACH) == [], sheet
        assert page.evaluate(SMALL) == 0, sheet
        page.click(f"{sheet} [data-close]")
    page.click("#more")
    page.click("[data-pick='repeat']")
    assert page.evaluate(OUT_OF_REACH) == [], "the positions"


def test_the_measures_of_a_screen_find_what_is_wrong(shown: Phone) -> None:
    """Keys that are too small, grey, cut off or covered must be found, or the test above could not fail."""
    page = resized(shown, "narrow").page
    shown.see("shoot")
    page.evaluate("""() => {
      document.getElementById("more").style.cssText = "position: fixed; width: 80px; top: 555px";
      document.getElementById("turned").style.cssText = "height: 40px; min-height: 0; align-self: start; color: #777";
      document.getElementById("back").textContent = "deleteeverything";
    }""")
    assert {"more", "back"} <= set(page.evaluate(OUT_OF_REACH))
    assert page.evaluate(SMALL) == 1
    assert page.evaluate(GREY) == ["rgb(119, 119, 119)"]
    page.reload()


def test_with_a_keyboard_alone(laptop: Laptop, pocket: Pocket) -> None:
    page = pocket("wide").new_page()
    phone = Phone(page, laptop.cook)
    first = phone.asked
    page.keyboard.type("571")
    page.keyboard.press("Enter")
    phone.kept(f"Kept: {first} 571")

    def tab_to(selector: str) -> None:
        for _ in range(60):
            page.keyboard.press("Tab")
            if page.evaluate("(selector) => document.activeElement.matches(selector)", selector):
                outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
                assert outline == "solid", "where the focus is can be seen"
                return
        raise AssertionError(f"{selector} cannot be reached")

    tab_to("#undo")
    page.keyboard.press("Enter")
    phone.kept(f"Taken back: {first} 571")
    tab_to("#more")
    page.keyboard.press("Space")
    tab_to("[data-pick='repeat']")
    page.keyboard.press("Escape")
    expect(page.locator("#more-sheet")).to_be_hidden()
    assert page.evaluate("document.activeElement.id") == "more", "the focus comes back"
    page.evaluate("document.activeElement.blur()")
    phone.shoot(FIRST, 6, keys=True)
    tab_to("a[href='#map']")
    page.keyboard.press("Enter")
    tab_to("[data-position='A1']")
    page.keyboard.press("Enter")
    expect(page.locator("#explained p")).to_have_count(3)


@pytest.mark.parametrize("screen", ["narrow", "wide"])
def test_no_serious_fault_for_those_who_see_or_hear_it_otherwise(shown: Phone, screen: str) -> None:
    """By axe-core 4 (tests/page/vendor), every rule it has for WCAG 2.2 A and AA and good practice."""
    phone, page = resized(shown, screen), shown.page
    page.evaluate((HERE / "vendor" / "axe.min.js").read_text(encoding="utf-8"))

    def faults() -> list[str]:
        found: list[dict[str, Any]] = page.evaluate("axe.run(document).then((found) => found.violations)")
        return [f"{one['id']}: {one['nodes'][0]['html']}" for one in found if one["impact"] in ("serious", "critical")]

    for view in VIEWS:
        phone.see(view)
        assert faults() == [], view
    phone.see("shoot")
    for opener, sheet in (("#more", "#more-sheet"), ("#turned", "#turned-sheet")):
        page.click(opener)
        assert faults() == [], sheet
        page.click(f"{sheet} [data-close]")
    page.evaluate("document.getElementById('more').replaceChildren()")
    assert any("button-name" in one for one in faults()), "a key without a name is found"
    page.reload()


def test_agrees_with_the_colours_of_the_other_pictures(shown: Phone) -> None:
    from matplotlib.colors import to_rgba_array

    from heatmap.pictures.ramp import COLOURS, band_steps

    for low, high in ((550.0, 600.0), (500.0, 620.0), (290.0, 310.0)):
        found = shown.page.evaluate(f"import('/static/ramp.js').then((ramp) => ramp.bandSteps({low}, {high}))")
        np.testing.assert_allclose(found["edges"], band_steps(low, high))
        np.testing.assert_allclose(np.array(found["colours"]) / 255, to_rgba_array(COLOURS)[:, :3], atol=1e-9)


def test_contours_lie_where_a_surface_crosses_the_level(shown: Phone) -> None:
    """Interpolation along an edge is exact for a plane; round a bowl the line is closed."""
    x, y = np.arange(0.25, 8, 0.5), np.arange(0.25, 5, 0.5)
    plane = 500 + 10 * x[None, :] + 4 * y[:, None]
    lines = shown.page.evaluate(
        "([x, y, values]) => import('/static/contours.js').then((one) => one.contour(x, y, values, 541))",
        [x.tolist(), y.tolist(), plane.tolist()],
    )
    (line,) = (np.array(one) for one in lines)
    assert len(line) > 8
    np.testing.assert_allclose(500 + 10 * line[:, 0] + 4 * line[:, 1], 541, atol=1e-6)
    assert np.all(np.diff(line[:, 1]) > 0) or np.all(np.diff(line[:, 1]) < 0), "one line from edge to edge"
    bowl = (x[None, :] - 4) ** 2 + (y[:, None] - 2.5) ** 2
    (ring,) = shown.page.evaluate(
        "([x, y, values]) => import('/static/contours.js').then((one) => one.contour(x, y, values, 3))",
        [x.tolist(), y.tolist(), bowl.tolist()],
    )
    assert ring[0] == ring[-1], "closed"
    radius = np.hypot(np.array(ring)[:, 0] - 4, np.array(ring)[:, 1] - 2.5)
    # Interpolating a square over a cell h is at most h²/4 off; by the gradient 2r that is so far.
    np.testing.assert_allclose(radius, np.sqrt(3), atol=0.5**2 / 4 / (2 * np.sqrt(3)) + 1e-9)


def test_the_map_is_drawn_within_a_tenth_of_a_second(shown: Phone) -> None:
    page = resized(shown, "wide").page
    shown.see("map")
    best = page.evaluate("""async () => {
      const {Grate} = await import("/static/grate.js");
      const state = await fetch("/api/state").then((answer) => answer.json());
      const grate = new Grate(document.getElementById("map-picture"), () => {});
      const times = [1, 2, 3, 4, 5].map((more) => {
        state.map.mean[0][0] += more;
        const before = performance.now();
        grate.draw(state);
        document.body.getBoundingClientRect();
        return performance.now() - before;
      });
      return Math.min(...times);
    }""")
    assert best < 100
    expect(page.locator(".places .mark")).to_have_count(12)
    colours = page.evaluate("""() => {
      const field = document.querySelector(".grate canvas");
      const {data} = field.getContext("2d").getImageData(0, 0, field.width, field.height);
      return new Set(new Uint32Array(data.buffer)).size;
    }""")
    assert 1 <= colours <= 9, "steps of colour, and no others"


#: Mean difference of two screens, in shares of black to white, after both were made coarse.
LOOSE = 0.03


@pytest.mark.parametrize("screen", ["phone", "lying"])
@pytest.mark.parametrize("view", VIEWS)
def test_looks_as_it_was_looked_at(shown: Phone, view: str, screen: str) -> None:
    from PIL import Image

    page = resized(shown, screen).page
    shown.see(view)
    expect(page.locator(f"#{view}")).to_be_visible()
    kept = HERE / "baselines" / f"{view}-{screen}.png"
    taken = Image.open(io.BytesIO(page.screenshot()))
    if os.environ.get("GRATEMAP_NEW_BASELINES"):
        taken.convert("RGB").quantize(24).save(kept, optimize=True)
    found, wanted = (
        np.asarray(one.convert("RGB").resize((one.width // 8, one.height // 8), Image.Resampling.BOX), dtype=float)
        for one in (taken, Image.open(kept))
    )
    assert found.shape == wanted.shape
    difference = np.abs(found - wanted).mean() / 255
    assert difference < LOOSE
    empty = np.abs(np.full_like(wanted, 255.0) - wanted).mean() / 255
    assert empty > LOOSE, "a page that is white would be found"
