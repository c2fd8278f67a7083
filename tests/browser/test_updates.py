"""A page follows the flight: through a gate, a lost link, a bridge that is killed, a sleep of its own, beside another."""

from __future__ import annotations

import signal
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.network_relay import network_relay
from tests.browser.watch_process import AeroplaneSender, WatchProcess, aeroplane_sender, watch_process

pytestmark = pytest.mark.browser

Flight = tuple[WatchProcess, AeroplaneSender]


def test_the_page_is_followed_through_a_gate(page: Page, flight: Flight) -> None:
    """Open items stand there at the cue, go when they are mended, and behind the gate the next one comes."""
    watch, aeroplane = flight
    aeroplane.set({"lights.beacon": "off"})
    page.goto(watch.view("ahead"))
    gate = page.locator("#gate-push")
    expect(gate).to_contain_text("comes next")
    expect(gate).to_contain_text("beacon is off, needs on")
    aeroplane.call("push_approved")
    expect(gate).to_contain_text("about to go")
    told = page.locator("[data-panel=told]")
    expect(told).to_contain_text("beacon is off, needs on")
    expect(gate.locator("[data-level=caution]").first).to_contain_text("caution")
    aeroplane.set({"lights.beacon": "on"})
    expect(gate.locator("text=beacon is off")).to_have_count(0)
    aeroplane.set({"flight.ground_speed": 3.0})
    expect(page.locator(".head .phase")).to_contain_text("Push back")
    expect(page.locator("#gate-taxi")).to_contain_text("taxi light")


def test_silence_is_said_and_mended_by_itself(page: Page, flight: Flight) -> None:
    """A simulator that stops is told in words, with what was shown called old; it comes back without a touch."""
    watch, aeroplane = flight
    page.goto(watch.view("ahead"))
    link = page.locator(".head .link")
    expect(link).to_have_attribute("data-standing", "receiving")
    aeroplane.pause()
    expect(link).to_have_attribute("data-standing", "silent")
    expect(link).to_contain_text("No data for")
    expect(page.locator("#not-receiving")).to_contain_text("What stands here is old")
    expect(page.locator("#gate-push [data-verdict=unknown]")).to_contain_text("Cannot tell")
    expect(page.locator("#unsure-push")).to_contain_text("cannot be told")
    aeroplane.resume()
    expect(link).to_have_attribute("data-standing", "receiving")
    expect(page.locator("#not-receiving")).to_have_count(0)
    expect(page.locator("#unsure-push")).to_have_count(0)


def test_a_killed_bridge_is_said_and_the_next_one_is_followed(page: Page, tmp_path: Path) -> None:
    """The page says that the watch does not answer; when one runs again it loads itself anew, and its key still fits."""
    with watch_process(tmp_path) as watch, aeroplane_sender(watch):
        page.clock.install()
        page.goto(f"{watch.view('calls')}#key={watch.key}")
        expect(page.locator(".head .link")).to_have_attribute("data-standing", "receiving")
        boot = page.evaluate("document.body.dataset.boot")
        watch.end(signal.SIGKILL)
        page.clock.fast_forward(13_000)
        expect(page.locator("#lost")).to_contain_text("The watch does not answer")
        expect(page.locator("body")).to_have_class("old")
        where = {"page": f"127.0.0.1:{watch.page_port}", "link": f"udp://127.0.0.1:{watch.link_port}"}
        with watch_process(tmp_path, **where):
            page.wait_for_function("boot => document.body.dataset.boot !== boot", arg=boot)
            expect(page.locator("#lost")).to_be_hidden()
            expect(page.locator(".head .link")).to_have_attribute("data-standing", "receiving")
            page.locator("button[data-name=push_approved]").first.click()
            expect(page.locator("#said")).to_contain_text("call entered")


def test_two_clients_see_the_same_and_one_that_slept_is_up_to_date(
    browser: Browser, context: BrowserContext, flight: Flight
) -> None:
    """What one enters the other shows; a page that the system froze has what it missed once it is let run again."""
    watch, aeroplane = flight
    first, sleeper = context.new_page(), browser.new_context()
    second, third = sleeper.new_page(), context.new_page()
    first.goto(f"{watch.view('calls')}#key={watch.key}")
    for page in (second, third):
        page.goto(watch.view("ahead"))
        expect(page.locator("#gate-push")).to_contain_text("comes next")
    system = sleeper.new_cdp_session(second)
    system.send("Page.setWebLifecycleState", {"state": "frozen"})
    first.locator("button[data-name=push_approved]").first.click()
    expect(first.locator("#said")).to_contain_text("call entered")
    expect(third.locator("#gate-push")).to_contain_text("about to go")
    aeroplane.set({"lights.beacon": "off"})
    expect(third.locator("#gate-push")).to_contain_text("beacon is off")
    system.send("Page.setWebLifecycleState", {"state": "active"})
    expect(second.locator("#gate-push")).to_contain_text("about to go")
    expect(second.locator("#gate-push")).to_contain_text("beacon is off")
    expect(second.locator("#lost")).to_be_hidden()
    sleeper.close()


def test_one_reads_while_the_other_instructs(browser: Browser, page: Page, flight: Flight) -> None:
    """A screen without the key shows the reading that another began, and a pause that the instructor makes meanwhile."""
    watch, _ = flight
    other = browser.new_context()
    crew, instructor = other.new_page(), other.new_page()
    crew.goto(f"{watch.view('checklist')}#key={watch.key}")
    instructor.goto(watch.view("instructor"))
    page.goto(watch.view("checklist"))
    crew.locator("#read-before").click()
    expect(page.locator("#line-now")).to_contain_text("Documents")
    instructor.locator("#do-pause").click()
    for one in (page, crew):
        expect(one.locator(".head .session")).to_contain_text("paused")
    instructor.locator("#do-resume").click()
    crew.locator("#line-confirm").click()
    expect(page.locator("#line-confirm")).to_have_count(0)
    other.close()


def test_a_screen_whose_network_was_gone_catches_up(page: Page, flight: Flight) -> None:
    """A connection that is dead and does not say so is told after a while; with the network back a new one is made."""
    watch, aeroplane = flight
    with network_relay(watch.page_port) as (relay, address):
        page.clock.install()
        page.goto(f"{address}device/ahead")
        gate, lost = page.locator("#gate-push"), page.locator("#lost")
        expect(gate).to_contain_text("comes next")
        relay.go_dead()
        aeroplane.call("push_approved")
        page.clock.fast_forward(13_000)
        expect(lost).to_be_visible()
        expect(lost).to_contain_text("The watch does not answer")
        expect(gate).to_contain_text("comes next")
        relay.come_back()
        page.clock.fast_forward(13_000)
        expect(gate).to_contain_text("about to go")
        expect(lost).to_be_hidden()
