"""Tests of updates: a gate, a lost link, a killed bridge, a frozen page, two clients, a dead network."""

from __future__ import annotations

import signal
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.network_relay import network_relay
from tests.browser.watch_process import AeroplaneSender, WatchProcess, aeroplane_sender, watch_process

pytestmark = pytest.mark.browser

Flight = tuple[WatchProcess, AeroplaneSender]


def test_the_page_follows_the_flight_through_a_gate(page: Page, flight: Flight) -> None:
    """Open items are shown at the cue and vanish when corrected; after the gate comes the next one."""
    watch, aeroplane = flight
    aeroplane.set({"lights.beacon": "off"})
    page.goto(watch.view("ahead"))
    gate = page.locator("#gate-push")
    expect(gate).to_contain_text("next")
    expect(gate).to_contain_text("beacon is off")
    aeroplane.call("push_approved")
    expect(gate).to_contain_text("about to begin")
    notices = page.locator("[data-panel=notices]")
    expect(notices).to_contain_text("beacon is off")
    expect(gate.locator("[data-level=caution]").first).to_contain_text("caution")
    aeroplane.set({"lights.beacon": "on"})
    expect(gate.locator("text=beacon is off")).to_have_count(0)
    aeroplane.set({"flight.ground_speed": 3.0})
    expect(page.locator(".head .phase")).to_contain_text("Push back")
    expect(page.locator("#gate-taxi")).to_contain_text("taxi light")


def test_a_silent_link_is_shown_until_data_arrives(page: Page, flight: Flight) -> None:
    """A simulator that stops sending is reported, and the data is marked as old until data arrives again."""
    watch, aeroplane = flight
    page.goto(watch.view("ahead"))
    link = page.locator(".head .link")
    expect(link).to_have_attribute("data-state", "receiving")
    aeroplane.pause()
    expect(link).to_have_attribute("data-state", "silent")
    expect(link).to_contain_text("No data for")
    expect(page.locator("#not-receiving")).to_contain_text("Data shown is old")
    expect(page.locator("#gate-push [data-verdict=unknown]")).to_contain_text("Unknown")
    expect(page.locator("#unknown-push")).to_contain_text("unknown")
    aeroplane.resume()
    expect(link).to_have_attribute("data-state", "receiving")
    expect(page.locator("#not-receiving")).to_have_count(0)
    expect(page.locator("#unknown-push")).to_have_count(0)


def test_a_killed_bridge_is_reported_and_its_successor_followed(page: Page, tmp_path: Path) -> None:
    """The page reports that the watch does not answer; it reloads when one runs again, and its key still works."""
    with watch_process(tmp_path) as watch, aeroplane_sender(watch):
        page.clock.install()
        page.goto(f"{watch.view('calls')}#key={watch.key}")
        expect(page.locator(".head .link")).to_have_attribute("data-state", "receiving")
        boot = page.evaluate("document.body.dataset.boot")
        watch.end(signal.SIGKILL)
        page.clock.fast_forward(13_000)
        expect(page.locator("#lost")).to_contain_text("No answer from the watch")
        expect(page.locator("body")).to_have_class("old")
        where = {"page": f"127.0.0.1:{watch.page_port}", "link": f"udp://127.0.0.1:{watch.link_port}"}
        with watch_process(tmp_path, **where):
            page.wait_for_function("boot => document.body.dataset.boot !== boot", arg=boot)
            page.wait_for_load_state()  # only then do the scripts listen to the buttons
            expect(page.locator("#lost")).to_be_hidden()
            expect(page.locator(".head .link")).to_have_attribute("data-state", "receiving")
            page.locator("button[data-name=push_approved]").first.click()
            expect(page.locator("#reply")).to_contain_text("call entered")


def test_two_clients_show_the_same_and_a_frozen_one_catches_up(
    browser: Browser, context: BrowserContext, flight: Flight
) -> None:
    """A change of one client is shown by the other; a frozen page is up to date after it continues."""
    watch, aeroplane = flight
    first, frozen = context.new_page(), browser.new_context()
    second, third = frozen.new_page(), context.new_page()
    first.goto(f"{watch.view('calls')}#key={watch.key}")
    for page in (second, third):
        page.goto(watch.view("ahead"))
        expect(page.locator("#gate-push")).to_contain_text("next")
    system = frozen.new_cdp_session(second)
    system.send("Page.setWebLifecycleState", {"state": "frozen"})
    first.locator("button[data-name=push_approved]").first.click()
    expect(first.locator("#reply")).to_contain_text("call entered")
    expect(third.locator("#gate-push")).to_contain_text("about to begin")
    aeroplane.set({"lights.beacon": "off"})
    expect(third.locator("#gate-push")).to_contain_text("beacon is off")
    system.send("Page.setWebLifecycleState", {"state": "active"})
    expect(second.locator("#gate-push")).to_contain_text("about to begin")
    expect(second.locator("#gate-push")).to_contain_text("beacon is off")
    expect(second.locator("#lost")).to_be_hidden()
    frozen.close()


def test_crew_and_instructor_see_each_other(browser: Browser, page: Page, flight: Flight) -> None:
    """A screen without the key shows the checklist that another screen started, and the instructor's pause."""
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


def test_a_client_reconnects_after_a_dead_network(page: Page, flight: Flight) -> None:
    """A connection that is silently dead is reported after a while, and replaced when the network is back."""
    watch, aeroplane = flight
    with network_relay(watch.page_port) as (relay, address):
        page.clock.install()
        page.goto(f"{address}device/ahead")
        gate, lost = page.locator("#gate-push"), page.locator("#lost")
        expect(gate).to_contain_text("next")
        relay.go_dead()
        aeroplane.call("push_approved")
        page.clock.fast_forward(13_000)
        expect(lost).to_be_visible()
        expect(lost).to_contain_text("No answer from the watch")
        expect(gate).to_contain_text("next")
        relay.restore()
        page.clock.fast_forward(13_000)
        expect(gate).to_contain_text("about to begin")
        expect(lost).to_be_hidden()
