"""Tests that plots shade the gaps in the data, and draw nothing through them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bridge.debrief.drawing.flow_plot import draw_flow
from bridge.debrief.drawing.gap_marks import gaps_description
from bridge.debrief.drawing.overview_plot import draw_overview, time_scale
from bridge.debrief.drawing.plots import Plot, Plots, draw_all
from bridge.debrief.drawing.trace_plot import draw_traces
from bridge.debrief.from_recording import debrief_from_recording
from bridge.debrief.model import DataGap, DebriefData
from bridge.debrief.report.document import render_html
from bridge.recording.reader import open_recording
from bridge.recording.recorder import MAX_QUEUED
from rules.packs.model import Pack
from tests.bridge.debrief.drawing.drawn_spans import crosses_a_gap, drawn_spans, gap_spans
from tests.bridge.debrief.drawing.test_flow_marks import LATE, MET, PHASES, WAIVED
from tests.bridge.debrief.drawing.test_trace_plot import EGT, LEVER
from tests.bridge.debrief.recorded_flight import number_of, recorded_flight
from tests.bridge.recording.builders import RecordedDevice

GAP = DataGap(110.0, 130.0, 110.0)
LOST_S = ((330.0, 336.0), (425.0, 431.0), (560.0, 563.0))
"""Before the push back, in the start of engine 2, and in the control check."""


@pytest.fixture(scope="module")
def lossy(tmp_path_factory: pytest.TempPathFactory, twin_jet: Pack) -> DebriefData:
    """A departure with the demonstration's slips, three times of which no data arrived."""
    path = recorded_flight(tmp_path_factory.mktemp("lossy"), slips=["demo"], until_s=660.0, lost_s=LOST_S)
    return debrief_from_recording(open_recording(path), twin_jet)


@pytest.fixture(scope="module")
def drawn(lossy: DebriefData) -> Plots:
    """Its plots."""
    return draw_all(lossy)


def _all(plots: Plots) -> list[Plot]:
    assert plots.overview is not None
    every = [plots.overview, *(plot for _, plot in plots.flows), *plots.findings.values(), *plots.traces]
    return [plot for plot in every if plot.svg]


def test_a_line_through_a_gap_is_found() -> None:
    """The search of these tests finds a line that is drawn through a gap."""
    svg = draw_traces("p", "t", "d", [EGT, LEVER], (), (), (0.0, 30.0), (DataGap(12.0, 18.0, 12.0),))
    assert crosses_a_gap(svg)


def test_no_plot_draws_through_a_gap(drawn: Plots) -> None:
    """No line, bar or band of any plot of a flight lies within a gap; each plot shades those that it names."""
    plots = _all(drawn)
    assert sum(bool(plot.gaps) for plot in plots) >= 8
    for plot in plots:
        assert len(gap_spans(plot.svg)) == len(plot.gaps), plot.anchor
        assert not crosses_a_gap(plot.svg), plot.anchor


def test_the_timeline_shows_every_gap(lossy: DebriefData, drawn: Plots) -> None:
    """The timeline has all gaps of the session, also where they are shorter than a line is wide."""
    assert drawn.overview is not None
    assert drawn.overview.gaps == lossy.gaps
    assert [(round(gap.from_s, 3), round(gap.to_s, 3)) for gap in lossy.gaps] == list(LOST_S)
    short = (DataGap(2000.0, 2000.5, 2000.0),)
    svg = draw_overview(PHASES, [MET, LATE], (), {}, short)
    (span,) = gap_spans(svg)
    assert 0 < span[1] - span[0] < 1
    assert gap_spans(draw_overview(PHASES, [MET, LATE], (), {})) == []


def test_bars_and_bands_are_interrupted() -> None:
    """A bar has a part on either side of a gap; its statuses are otherwise as before."""
    for svg in (
        draw_flow("f", [MET, LATE, WAIVED], PHASES, (), {}, (GAP,)),
        draw_overview(PHASES, [MET, LATE], (), {}, (GAP,)),
    ):
        (hatched,) = gap_spans(svg)
        assert not crosses_a_gap(svg)
        edges = [edge for span in drawn_spans(svg) for edge in span]
        assert min(abs(edge - hatched[0]) for edge in edges) < 0.5
        assert min(abs(edge - hatched[1]) for edge in edges) < 0.5
    whole = draw_overview(PHASES, [MET, LATE], (), {})
    assert any(low < hatched[0] and high > hatched[1] for low, high in drawn_spans(whole))
    assert time_scale(PHASES)(GAP.from_s) < time_scale(PHASES)(GAP.to_s)


def test_evidence_and_traces_continue_after_a_gap(lossy: DebriefData, drawn: Plots) -> None:
    """After a gap the lines of evidence and of a trace continue with what was measured then."""
    brake = next(d for d in lossy.findings if d.finding.number == number_of(lossy, "watch.brake_before_push"))
    assert brake.evidence is not None
    (lever,) = [one for one in brake.evidence.series if one.signal == "gear.parking_brake"]
    assert list(zip(lever.times_s, lever.values, strict=True))[-2:] == [(330.0, None), (336.0, "released")]
    start = drawn.traces[0]
    assert [(gap.from_s, gap.to_s) for gap in start.gaps] == [(425.0, 431.0)]
    (hatched,) = gap_spans(start.svg)
    assert max(high for _, high in drawn_spans(start.svg)) > hatched[1]


def test_the_page_names_the_hatching(lossy: DebriefData, drawn: Plots) -> None:
    """Each plot with a gap has its legend with the times, on screen and in its description; no other plot has one."""
    page = render_html(lossy, drawn)
    figures = {
        found[1]: found[2] for found in re.finditer(r'<figure id="([^"]+)"(.*?)</figure>', page, re.DOTALL)
    }
    for plot in _all(drawn):
        assert ("data missing: " in figures[plot.anchor]) == bool(plot.gaps), plot.anchor
        assert gaps_description(plot.gaps) in plot.svg
    assert "data missing: 6 s at 0:05:30, 6 s at 0:07:05, 3 s at 0:09:20" in figures["overview"]
    assert "Met throughout, except where data are missing: " in figures["flow-before_start"]


def test_frames_that_were_not_recorded_are_a_gap_in_evidence(pack: Pack, tmp_path: Path) -> None:
    """Where the recorder left frames out that were judged, evidence has a gap, though the session has none."""
    recorded = RecordedDevice(pack, tmp_path)
    for step in range(MAX_QUEUED + 600):
        calls = {"push_approved": 180.0} if step >= 3600 else {}
        speed_kt = 3.0 if step >= 3800 else 0.0
        recorded.send(step * 0.05, {"lights.beacon": "off", "flight.ground_speed": speed_kt}, **calls)
    recorded.recorder.write_queued()
    recorded.send((MAX_QUEUED + 600) * 0.05)
    recorded.recorder.finish()
    debrief = debrief_from_recording(recorded.read(), pack)
    assert recorded.recorder.lost_count > 500
    assert debrief.gaps == ()
    (detail,) = [each for each in debrief.findings if each.finding.item == "flow.before.beacon"]
    assert detail.evidence is not None
    (gap,) = detail.evidence.gaps
    assert gap.missing_s > 20.0
    (beacon,) = [one for one in detail.evidence.series if one.signal == "lights.beacon"]
    assert (beacon.times_s[-1], beacon.values[-1]) == (gap.from_s, None)
