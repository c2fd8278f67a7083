"""Every place that names a gate says how much of it was judged, and none shows all clear for a part."""

from __future__ import annotations

import json
from collections.abc import Mapping

import pytest

from tests.gate_reports.collect import GATES, SWITCHES, ReportedFlight

SENT = (2, 6, 10)
PLACES = {
    "page, next gate", "terminal, next gate", "console line", "timeline", "UDP line, cue", "UDP line, entry", "page",
    "terminal", "page, all devices", "debrief, table", "debrief, page", "store",
}  # fmt: skip
"""Places whose text has the words; the summary has them where a gate was judged in part."""


@pytest.fixture(scope="module")
def flights(tmp_path_factory: pytest.TempPathFactory) -> Mapping[tuple[int, int], ReportedFlight]:
    """Flights with 20 %, 60 % and all of the switches sent; in each, none or one of them is left off."""
    return {
        (sent, off): ReportedFlight(tmp_path_factory.mktemp("flight"), sent, off)
        for sent in SENT
        for off in (0, 1)
    }


@pytest.mark.parametrize("gate", GATES)
@pytest.mark.parametrize("off", [0, 1])
@pytest.mark.parametrize("sent", SENT)
def test_every_place_says_how_much_was_judged(
    flights: Mapping[tuple[int, int], ReportedFlight], sent: int, off: int, gate: str
) -> None:
    """Each place that names a gate has `N of 10 judged`, and each message has the numbers."""
    texts = flights[sent, off].texts(gate)
    judged = f"{sent} of {len(SWITCHES)} judged"
    assert {place: text for place, text in texts.items() if place in PLACES and judged not in text} == {}
    assert set(texts) >= PLACES
    for place in ("webhook, cue", "webhook, entry", "ZeroMQ, cue", "ZeroMQ, entry"):
        body = json.loads(texts[place])
        assert (body["judged"], body["needs"], body["open_items"]) == (sent, len(SWITCHES), off)
    assert texts["trends"] == f"all judged in {int(sent == len(SWITCHES))} of 1 passages"
    if sent == len(SWITCHES):
        assert "3 gates passed, all needs judged" in texts["summary"]
    else:
        assert f"  {GATES[gate]} at the entry: {off} open, {judged}" in texts["summary"]


@pytest.mark.parametrize(
    ("sent", "off", "look"),
    [
        (2, 0, "partial"),
        (6, 0, "partial"),
        (10, 0, "clear"),
        (2, 1, "open"),
        (6, 1, "open"),
        (10, 1, "open"),
    ],
)
def test_all_clear_is_shown_only_where_all_was_judged(
    flights: Mapping[tuple[int, int], ReportedFlight], sent: int, off: int, look: str
) -> None:
    """The page has the look of all clear, and the terminal its words, only with every need judged and met."""
    flight = flights[sent, off]
    assert {flight.looks[f"{gate}, page"] for gate in GATES} == {look}
    for gate in GATES:
        assert ("no open items, all judged" in flight.texts(gate)["terminal"]) == (look == "clear")


def test_the_voice_says_it_once_and_never_all_clear(
    flights: Mapping[tuple[int, int], ReportedFlight],
) -> None:
    """The first utterance of a gate ends with how much was judged; without open items the voice is silent."""
    for (sent, off), flight in flights.items():
        spoken = [report for report in flight.reports if report.place == "voice" and report.gate == "push"]
        assert bool(spoken) == bool(off)
        words = {2: "Two of ten judged.", 6: "Six of ten judged."}.get(sent)
        assert [words is not None and words in report.text for report in spoken] == [
            words is not None and number == 0 for number in range(len(spoken))
        ]
