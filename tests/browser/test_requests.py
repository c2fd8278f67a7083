"""What is changed from a page: with the key, in words, once; and nothing without it."""

from __future__ import annotations

import re
import shutil

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.watch_process import AeroplaneSender, WatchProcess

pytestmark = pytest.mark.browser

ELSEWHERE = "http://elsewhere.invalid/"
ASK = """async ([address, headers]) => {
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
    """The watch, with a session in which nothing was said."""
    return flight[0]


@pytest.fixture
def aeroplane(flight: tuple[WatchProcess, AeroplaneSender]) -> AeroplaneSender:
    """The aeroplane that the watch hears."""
    return flight[1]


def press(page: Page, button: str) -> None:
    """Press a button as a person does: not within the time in which the page takes it for the same press."""
    page.wait_for_function("() => Date.now() - (globalThis.pressedAt ?? 0) > 450")
    page.locator(button).first.click()
    page.evaluate("globalThis.pressedAt = Date.now()")


def test_a_wrong_key_is_refused_in_words_and_asked_for_again(page: Page, watch: WatchProcess) -> None:
    """Without a key it is asked for; a wrong one changes nothing and says so; the right one enters the call."""
    page.goto(watch.view("calls"))
    page.evaluate("localStorage.removeItem('holdshort-key')")
    button = page.locator("#calls-enter-clearance, #waited-enter-clearance").first
    button.click()
    dialog = page.locator("#ask-key")
    expect(dialog).to_contain_text("needs the key")
    dialog.locator("input").fill("not-the-key")
    dialog.locator("button[value=keep]").click()
    expect(dialog).to_contain_text("does not fit")
    expect(page.locator("[data-made=true]")).to_have_count(0)
    dialog.locator("input").fill(watch.key)
    dialog.locator("button[value=keep]").click()
    expect(page.locator("#said")).to_contain_text("call entered")
    expect(page.locator("#calls-clearance")).to_have_attribute("data-made", "true")


def test_nothing_is_changed_without_the_key(page: Page, watch: WatchProcess) -> None:
    """Looking needs none; a request without the key, or with one that does not fit, is refused and nothing has happened."""
    page.goto(watch.view("calls"))
    do = f"{watch.address}device/do"
    for headers in ({}, {"Authorization": "Bearer"}, {"Authorization": f"Bearer {watch.key[:-1]}"}):
        assert page.evaluate(ASK, [do, headers]) == [
            403,
            "this needs the key that the watch shows in its terminal",
        ]
    assert page.evaluate(ASK, [do, {"Authorization": f"Bearer {watch.key}"}]) == [
        200,
        "call entered: departure clearance",
    ]


def test_another_site_can_neither_change_nor_look(
    page: Page, context: BrowserContext, watch: WatchProcess
) -> None:
    """A page from elsewhere in the same browser is refused, with the key or without, sent so that no leave is asked or not."""
    context.route(
        f"{ELSEWHERE}**", lambda route: route.fulfill(body="<h1>elsewhere</h1>", content_type="text/html")
    )
    answers: list[int] = []
    page.on("response", lambda answer: answers.append(answer.status) if "/do" in answer.url else None)
    page.goto(ELSEWHERE)
    do = f"{watch.address}device/do"
    assert page.evaluate(ASK, [do, {"Authorization": f"Bearer {watch.key}"}]) == [0, "TypeError"]
    assert page.evaluate(ASK, [do, {"Content-Type": "text/plain"}]) == [0, "TypeError"]
    assert (
        page.evaluate(
            "address => fetch(address).then(one => one.text(), error => error.name)", watch.view("ahead")
        )
        == "TypeError"
    )
    assert set(answers) <= {421}
    page.goto(watch.view("calls"))
    expect(page.locator("#calls-clearance")).to_have_attribute("data-made", "false")


def test_the_page_is_not_served_under_a_strange_name(browser: Browser, watch: WatchProcess) -> None:
    """A name that somebody made to lead to this machine is turned away in words."""
    found = shutil.which("chromium")
    named = browser.browser_type.launch(
        executable_path=found,
        args=["--no-sandbox", "--host-resolver-rules=MAP elsewhere.invalid 127.0.0.1"],
    )
    page = named.new_page()
    answer = page.goto(f"http://elsewhere.invalid:{watch.page_port}/device/ahead")
    assert answer is not None
    assert answer.status == 421
    expect(page.locator("body")).to_contain_text("not served under that name")
    named.close()


def test_a_call_is_stamped_and_can_be_undone(page: Page, watch: WatchProcess) -> None:
    """One touch enters it with both times; the undo beside it takes it back."""
    page.goto(f"{watch.view('calls')}#key={watch.key}")
    press(page, "#calls-enter-cabin_ready")
    made = page.locator("#calls-cabin_ready")
    expect(made).to_contain_text("UTC")
    expect(made).to_contain_text("sim 0:0")
    expect(made.locator(".undo")).to_contain_text(re.compile(r"Undo ([1-9]|10) s"))
    press(page, "#calls-undo-cabin_ready")
    expect(page.locator("#calls-enter-cabin_ready")).to_be_visible()
    page.goto(watch.view("timeline"))
    expect(page.locator("[data-panel=timeline]")).to_contain_text("taken back")


def test_a_checklist_goes_on_by_itself_and_asks_only_where_no_signal_shows(
    page: Page, watch: WatchProcess, aeroplane: AeroplaneSender
) -> None:
    """What is so passes; what nobody can see waits for a touch; what is not so says why, and can be left open."""
    aeroplane.set({"lights.wing": "off"})
    page.goto(f"{watch.view('checklist')}#key={watch.key}")
    press(page, "#read-before")
    present = page.locator("#line-now")
    expect(present).to_contain_text("Beacon")
    expect(present.locator("button")).to_have_count(0)
    expect(present).to_contain_text("Documents")
    press(page, "#line-confirm")
    expect(present).to_contain_text("Hydraulics")
    expect(present).to_contain_text("Wing lights")
    expect(present).to_contain_text("Not so")
    press(page, "#line-leave")
    expect(page.locator("#reading")).to_contain_text("1 still open")
    aeroplane.set({"lights.wing": "on"})
    expect(page.locator("#reading")).to_contain_text("Before push complete")
    press(page, "#put-away")
    expect(page.locator("#read-before")).to_be_visible()


def test_the_instructor_rules_the_session(page: Page, watch: WatchProcess) -> None:
    """Names, seats, a pause, an excuse with its reason, a remark, silence, the end: each is done and said."""
    page.goto(f"{watch.view('instructor')}#key={watch.key}")
    said, now = page.locator("#said"), page.locator("#session-now")
    press(page, "#do-pause")
    expect(now).to_contain_text("paused")
    press(page, "#do-resume")
    expect(now).to_contain_text("running")
    press(page, "#do-silence")
    expect(page.locator(".head .session")).to_contain_text("silenced")
    page.locator("#forms > summary").click()
    page.locator("#session-name").fill("Lesson <b>4</b>")
    page.locator("#name-form button").click()
    expect(now.locator("h2")).to_have_text("Lesson <b>4</b>")
    page.locator("#seat-captain").fill("Wren 12")
    page.locator("#seat-form-captain button").click()
    expect(now.locator(".crew")).to_contain_text("Wren 12")
    page.locator("#remark").fill("late with the beacon")
    page.locator("#remark-form button").click()
    expect(said).to_contain_text("remark kept")
    page.locator("#excuse-search").fill("beac")
    page.locator("#excuse-items label:visible").first.click()
    page.locator("#excuse-reason").fill("lamp is out of service")
    page.locator("#excusing form button").click()
    expect(now).to_contain_text("lamp is out of service")
    page.locator("#sure-end > summary").click()
    press(page, "#do-end")
    expect(now).to_contain_text("ended")
    page.goto(watch.view("timeline"))
    for words in ("late with the beacon", "Wren 12", "paused", "ended"):
        expect(page.locator("[data-panel=timeline]")).to_contain_text(words)


def test_papers_are_tried_while_they_are_typed_and_taken_over_with_the_key(
    page: Page, watch: WatchProcess
) -> None:
    """A number without its unit is refused at its field at once; a good one is taken over and stands in the timeline."""
    page.goto(f"{watch.view('papers')}#key={watch.key}")
    field = page.locator("#paper-takeoff_mass, [id^=paper-][id$=_mass]").first
    field.fill("61000")
    expect(page.locator(f"#{field.get_attribute('id')}".replace("paper-", "says-"))).to_contain_text("unit")
    field.fill("61 000 kg")
    page.locator("#take").click()
    expect(page.locator("#said")).to_contain_text("papers amended")


def test_signals_are_found_with_value_age_and_origin(page: Page, watch: WatchProcess) -> None:
    """A search shows the signal with its unit and quality, and the field that it came from."""
    page.goto(watch.view("signals"))
    page.locator("#q").fill("hydraulics.1.pressure")
    found = page.locator("#found")
    expect(found).to_contain_text("3 000 psi")
    expect(found).to_contain_text("fresh")


def test_the_page_never_talks_over_a_warning(
    page: Page, watch: WatchProcess, aeroplane: AeroplaneSender
) -> None:
    """A caution that is being said is cut off by a warning; while that is said nothing else begins."""
    page.add_init_script(VOICE)
    page.goto(watch.view("ahead"))
    page.locator("body").click(position={"x": 5, "y": 300})
    aeroplane.set({"lights.beacon": "off"})
    aeroplane.call("push_approved")
    page.wait_for_function("() => globalThis.talking !== null")
    aeroplane.set({"hydraulics.1.pressure": 1200.0})
    page.wait_for_function("() => globalThis.talking?.text.includes('hydraulic')")
    begun = page.evaluate("globalThis.spoken.filter(([what]) => what === 'begin').length")
    aeroplane.set({"lights.wing": "off"})
    expect(page.locator("#gate-push")).to_contain_text("wing")
    assert page.evaluate("globalThis.spoken.filter(([what]) => what === 'begin').length") == begun
    page.evaluate("globalThis.finish()")
    page.wait_for_function("() => globalThis.talking !== null")
    page.locator("#voice").click()
    page.locator("#voice-mute").select_option("everything")
    expect(page.locator("#voice")).to_contain_text("muted")
    page.wait_for_function("() => globalThis.talking === null")
    aeroplane.set({"hydraulics.1.pressure": 3000.0})
