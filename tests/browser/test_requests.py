"""Tests of changes from a page: with the key, once, with a reply; and none without it."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.watch_process import AeroplaneSender, WatchProcess
from tests.requirements import find_chromium

pytestmark = pytest.mark.browser

ELSEWHERE = "http://elsewhere.invalid/"
REQUEST = """async ([address, headers]) => {
  const body = JSON.stringify({ verb: "call", name: "clearance", by: "atc" });
  try {
    const answer = await fetch(address, { method: "POST", headers, body });
    return [answer.status, (await answer.json()).text];
  } catch (error) {
    return [0, error.name];
  }
}"""
VOICE = """
localStorage.setItem("holdshort-voice", JSON.stringify({on: true, sound: false, mute: "nothing", rate: 1, name: ""}));
globalThis.spoken = [];
globalThis.talking = null;
globalThis.SpeechSynthesisUtterance = class { constructor(text) { this.text = text; } };
Object.defineProperty(globalThis, "speechSynthesis", { value: {
  getVoices: () => [],
  addEventListener() {},
  speak(what) { globalThis.spoken.push(["begin", what.text]); globalThis.talking = what; },
  cancel() { if (globalThis.talking) globalThis.spoken.push(["cut", globalThis.talking.text]); globalThis.talking = null; },
} });
globalThis.finish = () => { const one = globalThis.talking; globalThis.talking = null; one?.onend?.(); };
"""


@pytest.fixture
def watch(flight: tuple[WatchProcess, AeroplaneSender]) -> WatchProcess:
    """The watch with a new session."""
    return flight[0]


@pytest.fixture
def aeroplane(flight: tuple[WatchProcess, AeroplaneSender]) -> AeroplaneSender:
    """The aeroplane that sends to the watch."""
    return flight[1]


def press(page: Page, button: str) -> None:
    """Press a button, but not within the time in which the page takes it for a double press."""
    page.wait_for_function("() => Date.now() - (globalThis.pressedAt ?? 0) > 450")
    page.locator(button).first.click()
    page.evaluate("globalThis.pressedAt = Date.now()")


def test_the_page_asks_again_after_a_wrong_key(page: Page, watch: WatchProcess) -> None:
    """A missing key is asked for, a wrong key is refused with a message, and the right one enters the call."""
    page.goto(watch.view("calls"))
    page.evaluate("localStorage.removeItem('holdshort-key')")
    button = page.locator("#calls-enter-clearance, #awaited-enter-clearance").first
    button.click()
    dialog = page.locator("#ask-key")
    expect(dialog).to_contain_text("need the key")
    dialog.locator("input").fill("not-the-key")
    dialog.locator("button[value=save]").click()
    expect(dialog).to_contain_text("Wrong key")
    expect(page.locator("[data-made=true]")).to_have_count(0)
    dialog.locator("input").fill(watch.key)
    dialog.locator("button[value=save]").click()
    expect(page.locator("#reply")).to_contain_text("call entered")
    expect(page.locator("#calls-clearance")).to_have_attribute("data-made", "true")


def test_a_change_needs_the_key(page: Page, watch: WatchProcess) -> None:
    """Viewing needs no key; a request without the key or with a wrong one is refused."""
    page.goto(watch.view("calls"))
    do = f"{watch.address}device/do"
    for headers in ({}, {"Authorization": "Bearer"}, {"Authorization": f"Bearer {watch.key[:-1]}"}):
        assert page.evaluate(REQUEST, [do, headers]) == [
            403,
            "this needs the key that the watch shows in its terminal",
        ]
    assert page.evaluate(REQUEST, [do, {"Authorization": f"Bearer {watch.key}"}]) == [
        200,
        "call entered: departure clearance",
    ]


def test_another_site_can_neither_change_nor_read(
    page: Page, context: BrowserContext, watch: WatchProcess
) -> None:
    """A page of another site in the same browser is refused, with and without the key, as a simple request or not."""
    context.route(
        f"{ELSEWHERE}**", lambda route: route.fulfill(body="<h1>elsewhere</h1>", content_type="text/html")
    )
    answers: list[int] = []
    page.on("response", lambda answer: answers.append(answer.status) if "/do" in answer.url else None)
    page.goto(ELSEWHERE)
    do = f"{watch.address}device/do"
    assert page.evaluate(REQUEST, [do, {"Authorization": f"Bearer {watch.key}"}]) == [0, "TypeError"]
    assert page.evaluate(REQUEST, [do, {"Content-Type": "text/plain"}]) == [0, "TypeError"]
    assert (
        page.evaluate(
            "address => fetch(address).then(one => one.text(), error => error.name)", watch.view("ahead")
        )
        == "TypeError"
    )
    assert set(answers) <= {421}
    page.goto(watch.view("calls"))
    expect(page.locator("#calls-clearance")).to_have_attribute("data-made", "false")


def test_the_page_is_not_served_under_a_foreign_name(browser: Browser, watch: WatchProcess) -> None:
    """A foreign name that resolves to this machine is refused with a message."""
    other_browser = browser.browser_type.launch(
        executable_path=find_chromium(),
        args=["--no-sandbox", "--host-resolver-rules=MAP elsewhere.invalid 127.0.0.1"],
    )
    page = other_browser.new_page()
    answer = page.goto(f"http://elsewhere.invalid:{watch.page_port}/device/ahead")
    assert answer is not None
    assert answer.status == 421
    expect(page.locator("body")).to_contain_text("not served under that name")
    other_browser.close()


def test_a_call_shows_its_times_and_can_be_undone(page: Page, watch: WatchProcess) -> None:
    """One press enters a call with both times; Undo removes it."""
    page.goto(f"{watch.view('calls')}#key={watch.key}")
    press(page, "#calls-enter-cabin_ready")
    call = page.locator("#calls-cabin_ready")
    expect(call).to_contain_text("UTC")
    expect(call).to_contain_text("sim 0:0")
    expect(call.locator(".undo")).to_contain_text(re.compile(r"Undo ([1-9]|10) s"))
    press(page, "#calls-undo-cabin_ready")
    expect(page.locator("#calls-enter-cabin_ready")).to_be_visible()
    page.goto(watch.view("timeline"))
    expect(page.locator("[data-panel=timeline]")).to_contain_text("cabin ready: undone")


def test_a_checklist_stops_only_at_open_lines(
    page: Page, watch: WatchProcess, aeroplane: AeroplaneSender
) -> None:
    """Met lines pass, a line without a signal waits for Confirm, an unmet line shows its reason and can be left open."""
    aeroplane.set({"lights.wing": "off"})
    page.goto(f"{watch.view('checklist')}#key={watch.key}")
    press(page, "#read-before")
    current = page.locator("#line-now")
    expect(current).to_contain_text("Documents")  # the beacon is met: its line stays for a moment only
    expect(page.locator("#checklist-run .previous")).to_contain_text("Beacon")
    press(page, "#line-confirm")
    expect(current).to_contain_text("Hydraulics")
    expect(current).to_contain_text("Wing lights")
    expect(current).to_contain_text("Not met")
    press(page, "#line-leave")
    expect(page.locator("#checklist-run")).to_contain_text("1 still open")
    aeroplane.set({"lights.wing": "on"})
    expect(page.locator("#checklist-run")).to_contain_text("Before push complete")
    press(page, "#close-checklist")
    expect(page.locator("#read-before")).to_be_visible()


def test_the_instructor_controls_the_session(page: Page, watch: WatchProcess) -> None:
    """Names, seats, pause, waiver, remark, mute and end all take effect and are shown."""
    page.goto(f"{watch.view('instructor')}#key={watch.key}")
    reply, now = page.locator("#reply"), page.locator("#session-now")
    press(page, "#do-pause")
    expect(now).to_contain_text("paused")
    press(page, "#do-resume")
    expect(now).to_contain_text("running")
    press(page, "#do-mute")
    expect(page.locator(".head .session")).to_contain_text("muted")
    page.locator("#forms > summary").click()
    page.locator("#session-name").fill("Lesson <b>4</b>")
    page.locator("#name-form button").click()
    expect(now.locator("h2")).to_have_text("Lesson <b>4</b>")
    page.locator("#seat-captain").fill("Wren 12")
    page.locator("#seat-form-captain button").click()
    expect(now.locator(".crew")).to_contain_text("Wren 12")
    page.locator("#remark").fill("late with the beacon")
    page.locator("#remark-form button").click()
    expect(reply).to_contain_text("remark")
    page.locator("#waive-search").fill("beac")
    page.locator("#waive-items label:visible").first.click()
    page.locator("#waive-reason").fill("lamp is out of service")
    page.locator("#waivers form button").click()
    expect(now).to_contain_text("lamp is out of service")
    now.locator(".waived .sure > summary").click()
    now.locator(".waived .sure input").fill("lamp was replaced")
    now.locator(".waived .sure button").click()
    expect(reply).to_contain_text("waiver undone")
    expect(now).not_to_contain_text("lamp is out of service")
    page.locator("#sure-end > summary").click()
    press(page, "#do-end")
    expect(now).to_contain_text("ended")
    page.goto(watch.view("timeline"))
    for words in ("late with the beacon", "Wren 12", "lamp was replaced", "paused", "ended"):
        expect(page.locator("[data-panel=timeline]")).to_contain_text(words)


def test_trip_values_are_checked_while_typing_and_applied_with_the_key(
    page: Page, watch: WatchProcess
) -> None:
    """A number without its unit is an error at its field; a good one is applied."""
    page.goto(f"{watch.view('trip_sheet')}#key={watch.key}")
    field = page.locator("#trip-takeoff_mass, [id^=trip-][id$=_mass]").first
    field.fill("61000")
    expect(page.locator(f"#{field.get_attribute('id')}".replace("trip-", "message-"))).to_contain_text("unit")
    field.fill("61 000 kg")
    page.locator("#apply").click()
    expect(page.locator("#reply")).to_contain_text("trip sheet amended")


def test_the_signal_search_shows_value_and_quality(page: Page, watch: WatchProcess) -> None:
    """A search shows the signal with its unit and quality."""
    page.goto(watch.view("signals"))
    page.locator("#q").fill("hydraulics.1.pressure")
    found = page.locator("#found")
    expect(found).to_contain_text("3 000 psi")
    expect(found).to_contain_text("fresh")


def test_the_voice_never_talks_over_a_warning(
    page: Page, watch: WatchProcess, aeroplane: AeroplaneSender
) -> None:
    """A warning interrupts a caution; while the warning is spoken nothing else begins."""
    page.add_init_script(VOICE)
    page.goto(watch.view("ahead"))
    page.locator("body").click(position={"x": 5, "y": 300})
    aeroplane.set({"lights.beacon": "off"})
    aeroplane.call("push_approved")
    page.wait_for_function("() => globalThis.talking !== null")
    aeroplane.set({"hydraulics.1.pressure": 1200.0})
    page.wait_for_function("() => globalThis.talking?.text.includes('hydraulic')")
    started = page.evaluate("globalThis.spoken.filter(([what]) => what === 'begin').length")
    aeroplane.set({"lights.wing": "off"})
    expect(page.locator("#gate-push")).to_contain_text("wing")
    assert page.evaluate("globalThis.spoken.filter(([what]) => what === 'begin').length") == started
    page.evaluate("globalThis.finish()")
    page.wait_for_function("() => globalThis.talking !== null")
    page.locator("#voice").click()
    page.locator("#voice-mute").select_option("everything")
    expect(page.locator("#voice")).to_contain_text("muted")
    page.wait_for_function("() => globalThis.talking === null")
    aeroplane.set({"hydraulics.1.pressure": 3000.0})
