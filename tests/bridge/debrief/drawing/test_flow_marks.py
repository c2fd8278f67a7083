"""The timeline and the flows: their axis, their rows, what is drawn of them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.debrief.drawing.flow_marks import met_throughout, window_in_session, window_of
from bridge.debrief.drawing.flow_plot import draw_flow, split_met
from bridge.debrief.drawing.overview_plot import finding_clusters, rows_of, share_met, ticks_of, time_scale
from bridge.debrief.drawing.plots import Plots
from bridge.debrief.model import DebriefData, FlownPhase, ItemHistory, ItemInterval
from rules.judge.events import ItemStatus

STAGES = (
    FlownPhase("parked", "Parked", "STD", 0.0, 100.0, 0.0),
    FlownPhase("taxi", "Taxi", "TXI", 100.0, 200.0, 100.0),
    FlownPhase("cruise", "Cruise", "ENR", 200.0, 2700.0, 200.0),
)


def bar(
    item: str, *stretches: tuple[float, float, ItemStatus], seat: str = "captain", found: int = 0
) -> ItemHistory:
    """An item of the taxi flow."""
    lives = tuple(ItemInterval(*stretch) for stretch in stretches)
    return ItemHistory(item, item.title(), "taxi", "Taxi", "taxi", seat, lives, (found,) if found else ())


MET = bar("flaps", (0.0, 2700.0, ItemStatus.MET))
LATE = bar("lights", (0.0, 150.0, ItemStatus.OPEN), (150.0, 2700.0, ItemStatus.MET), seat="first_officer")
EXCUSED = bar("radio", (0.0, 2700.0, ItemStatus.WAIVED))


def test_a_flow_is_shown_with_what_is_beside_its_phase() -> None:
    """Half a minute before and after its phase, never beyond the session; a flow that was not flown has no window."""
    assert window_of(MET, STAGES) == (70.0, 230.0)
    assert window_in_session(MET, STAGES[1:]) == (100.0, 230.0)
    assert window_of(MET, STAGES[:1]) is None


def test_what_was_met_throughout_is_named_and_not_drawn() -> None:
    """What was met for all the time is a name; late, excused, unseen for a while, or found: it is drawn."""
    window = (70.0, 230.0)
    gap = bar("doors", (0.0, 100.0, ItemStatus.MET), (120.0, 2700.0, ItemStatus.MET))
    both = bar("trim", (0.0, 100.0, ItemStatus.MET), (100.0, 2700.0, ItemStatus.CONFIRMED))
    assert [met_throughout(one, window) for one in (MET, LATE, EXCUSED, gap, both)] == [
        True,
        False,
        False,
        False,
        True,
    ]
    assert not met_throughout(replace(MET, findings=(1,)), window)
    assert split_met([MET, LATE, EXCUSED], STAGES) == ([LATE, EXCUSED], ("Flaps",))


def test_seats_head_their_items() -> None:
    """The items stand under the titles of their seats, in the order of the seats."""
    svg = draw_flow(
        "x", [LATE, EXCUSED], STAGES, [], {"captain": "Captain", "first_officer": "First officer"}
    )
    places = [svg.index(f">{word}<") for word in ("Captain", "Radio", "First officer", "Lights")]
    assert places == sorted(places)
    assert "<desc>2 items;" in svg


def test_a_long_phase_leaves_room_for_short_ones() -> None:
    """A phase 25 times as long is five times as wide; what is outside the session stands at its ends."""
    scale = time_scale(STAGES)
    assert [scale(time_s) for time_s in (-5.0, 0.0, 100.0, 200.0, 2700.0, 9e9)] == pytest.approx(
        [0.0, 0.0, 1 / 7, 2 / 7, 1.0, 1.0]
    )


def test_times_are_said_where_there_is_room() -> None:
    """A phase that begins too near to the one before has no time of its own."""
    short = (
        *STAGES[:2],
        replace(STAGES[1], id="line_up", from_s=200.0, to_s=201.0),
        replace(STAGES[2], from_s=201.0),
    )
    assert [text for _, text in ticks_of(short, time_scale(short))] == ["0:00:00", "0:01:40", "0:03:20"]


def test_rows_are_of_flows_that_were_flown() -> None:
    """One row for each flow and seat."""
    assert list(rows_of([MET, LATE, EXCUSED], STAGES)) == [("taxi", "captain"), ("taxi", "first_officer")]
    assert rows_of([MET], STAGES[:1]) == {}


def test_the_band_is_as_thick_as_what_was_met() -> None:
    """Met, confirmed and excused count, open does not."""
    assert share_met([MET, LATE, EXCUSED], 100.0) == pytest.approx(2 / 3)
    assert share_met([MET, LATE, EXCUSED], 160.0) == 1.0


def test_findings_close_together_share_a_label(account: DebriefData) -> None:
    """Each has its diamond; the numbers of those that stand together come after the last of them."""
    cases = [
        replace(case, at_s=at_s)
        for case, at_s in zip(account.findings, (10.0, 11.0, 150.0, 160.0), strict=False)
    ]
    bars = [replace(MET, findings=tuple(case.finding.number for case in cases))]
    found = list(finding_clusters(bars, cases, time_scale(STAGES)))
    assert [numbers for _, numbers in found] == ["", "1, 2", "", "3, 4"]


def test_a_clean_flow_is_a_sentence(plots: Plots) -> None:
    """Where all was met throughout there is no drawing; where not, what was is named beneath it."""
    by_flow = {first.flow: plot for first, plot in plots.flows}
    before = by_flow["before_start"]
    assert "Cabin doors" in before.met_labels
    assert ">Cabin doors<" not in before.svg
    assert ">Hold doors<" in before.svg
    assert all(bool(plot.svg) or plot.met_labels for plot in by_flow.values())
