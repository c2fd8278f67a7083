"""Tests of the timeline and the flow plots: axis, rows, bands, finding marks."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.debrief.drawing.flow_marks import met_throughout, window_in_session, window_of
from bridge.debrief.drawing.flow_plot import draw_flow, split_met
from bridge.debrief.drawing.overview_plot import finding_clusters, rows_of, share_met, ticks_of, time_scale
from bridge.debrief.drawing.plots import Plots
from bridge.debrief.model import DebriefData, FlownPhase, ItemHistory, ItemInterval
from rules.judge.events import ItemStatus

PHASES = (
    FlownPhase("parked", "Parked", "STD", 0.0, 100.0, 0.0),
    FlownPhase("taxi", "Taxi", "TXI", 100.0, 200.0, 100.0),
    FlownPhase("cruise", "Cruise", "ENR", 200.0, 2700.0, 200.0),
)


def history(
    item: str, *intervals: tuple[float, float, ItemStatus], seat: str = "captain", finding: int = 0
) -> ItemHistory:
    """An item of the taxi flow."""
    item_intervals = tuple(ItemInterval(*interval) for interval in intervals)
    return ItemHistory(
        item, item.title(), "taxi", "Taxi", "taxi", seat, item_intervals, (finding,) if finding else ()
    )


MET = history("flaps", (0.0, 2700.0, ItemStatus.MET))
LATE = history("lights", (0.0, 150.0, ItemStatus.OPEN), (150.0, 2700.0, ItemStatus.MET), seat="first_officer")
WAIVED = history("radio", (0.0, 2700.0, ItemStatus.WAIVED))


def test_the_window_of_a_flow() -> None:
    """It is the phase with 30 s before and after, within the session; a flow that was not flown has none."""
    assert window_of(MET, PHASES) == (70.0, 230.0)
    assert window_in_session(MET, PHASES[1:]) == (100.0, 230.0)
    assert window_of(MET, PHASES[:1]) is None


def test_an_item_met_throughout_is_not_drawn() -> None:
    """An item met over the whole window is only named; one that is late, waived, unknown for a time or has a finding is drawn."""
    window = (70.0, 230.0)
    gap = history("doors", (0.0, 100.0, ItemStatus.MET), (120.0, 2700.0, ItemStatus.MET))
    both = history("trim", (0.0, 100.0, ItemStatus.MET), (100.0, 2700.0, ItemStatus.CONFIRMED))
    assert [met_throughout(one, window) for one in (MET, LATE, WAIVED, gap, both)] == [
        True,
        False,
        False,
        False,
        True,
    ]
    assert not met_throughout(replace(MET, findings=(1,)), window)
    assert split_met([MET, LATE, WAIVED], PHASES) == ([LATE, WAIVED], ("Flaps",))


def test_items_are_grouped_by_seat() -> None:
    """The items are below the titles of their seats, in the order of the seats."""
    svg = draw_flow("x", [LATE, WAIVED], PHASES, [], {"captain": "Captain", "first_officer": "First officer"})
    offsets = [svg.index(f">{word}<") for word in ("Captain", "Radio", "First officer", "Lights")]
    assert offsets == sorted(offsets)
    assert "<desc>2 items;" in svg


def test_the_width_of_a_phase_is_the_square_root_of_its_duration() -> None:
    """A phase 25 times as long is five times as wide; times outside the session are at its ends."""
    scale = time_scale(PHASES)
    assert [scale(time_s) for time_s in (-5.0, 0.0, 100.0, 200.0, 2700.0, 9e9)] == pytest.approx(
        [0.0, 0.0, 1 / 7, 2 / 7, 1.0, 1.0]
    )


def test_ticks_have_room() -> None:
    """A phase that begins too close to the one before has no tick."""
    short = (
        *PHASES[:2],
        replace(PHASES[1], id="line_up", from_s=200.0, to_s=201.0),
        replace(PHASES[2], from_s=201.0),
    )
    assert [text for _, text in ticks_of(short, time_scale(short))] == ["0:00:00", "0:01:40", "0:03:20"]


def test_rows_are_of_flows_that_were_flown() -> None:
    """Each flow and seat that was flown has one row."""
    assert list(rows_of([MET, LATE, WAIVED], PHASES)) == [("taxi", "captain"), ("taxi", "first_officer")]
    assert rows_of([MET], PHASES[:1]) == {}


def test_the_share_of_items_met() -> None:
    """Met, confirmed and waived items count, open ones do not."""
    assert share_met([MET, LATE, WAIVED], 100.0) == pytest.approx(2 / 3)
    assert share_met([MET, LATE, WAIVED], 160.0) == 1.0


def test_findings_close_together_share_a_label(debrief: DebriefData) -> None:
    """Each finding has its diamond; the numbers of a group come after the last one."""
    details = [
        replace(detail, at_s=at_s)
        for detail, at_s in zip(debrief.findings, (10.0, 11.0, 150.0, 160.0), strict=False)
    ]
    items = [replace(MET, findings=tuple(detail.finding.number for detail in details))]
    clusters = list(finding_clusters(items, details, time_scale(PHASES)))
    assert [numbers for _, numbers in clusters] == ["", "1, 2", "", "3, 4"]


def test_a_flow_met_throughout_has_no_drawing(plots: Plots) -> None:
    """A flow has a drawing of its other items, and the names of those met throughout."""
    by_flow = {first.flow: plot for first, plot in plots.flows}
    before = by_flow["before_start"]
    assert "Cabin doors" in before.met_labels
    assert ">Cabin doors<" not in before.svg
    assert ">Hold doors<" in before.svg
    assert all(bool(plot.svg) or plot.met_labels for plot in by_flow.values())
