"""Selects and draws the plots of a debrief.

Takes: `DebriefData`.  Gives: `Plot`s.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from bridge.common.time_text import format_sim_time
from bridge.debrief.drawing import flow_plot
from bridge.debrief.drawing.flow_marks import window_in_session, window_of
from bridge.debrief.drawing.overview_plot import draw_overview
from bridge.debrief.drawing.panel_layout import PlotTrace, constant_text, plot_panels, split_constant
from bridge.debrief.drawing.trace_plot import PlotLimit, PlotMark, draw_traces
from bridge.debrief.gaps import break_samples, gaps_within
from bridge.debrief.model import DataGap, DebriefData, DebriefTrace, FindingDetail, ItemHistory

CONTROL_CHECK_ID = "control_check"
FULL_TRAVEL_PERCENT = 90.0
"""Full travel of a control, as in the control checks of the packs."""
DEVIATION_SIGNALS = ("navigation.localizer", "navigation.glide_path")
PLOT_AREA_LEFT, PLOT_AREA_WIDTH = 0.1, 0.85
"""The approximate left edge and width of the plot area, as parts of the plot."""
Progress = Callable[[int], None]


@dataclass(frozen=True, slots=True)
class Plot:
    """One plot with its anchor in the page.

    Attributes:
        svg: the drawing, '' if there is nothing to draw.
        omitted_labels: signals for which there was no room.
        constant_labels: signals that did not change, with their values; they are not drawn.
        met_labels: items of a flow that were met throughout.
        findings: the numbers of the findings marked in a trace.
        constant_signals: the names of the signals of `constant_labels`.
        finding_position: the position of the finding across the plot, from 0 to 1; 0 if there is none.
        gaps: the times within the plot for which data were missing.
    """

    anchor: str
    title: str
    svg: str
    omitted_labels: tuple[str, ...] = ()
    constant_labels: tuple[str, ...] = ()
    met_labels: tuple[str, ...] = ()
    findings: tuple[int, ...] = ()
    constant_signals: frozenset[str] = frozenset()
    finding_position: float = 0.0
    gaps: tuple[DataGap, ...] = ()


@dataclass(frozen=True, slots=True)
class Plots:
    """All plots of a debrief: those of findings by number, those of traces and flows in their order."""

    overview: Plot | None
    flows: tuple[tuple[ItemHistory, Plot], ...]
    findings: dict[int, Plot]
    traces: tuple[Plot, ...]

    def trace_of(self, number: int) -> Plot | None:
        """The first trace in which a finding is marked."""
        return next((trace for trace in self.traces if number in trace.findings), None)


def draw_all(debrief: DebriefData, progress: Progress = lambda _: None) -> Plots:
    """Draw every plot.

    Args:
        debrief: the session.
        progress: called with 1 after each plot.
    """

    def drawn(plots: Iterator[Plot]) -> Iterator[Plot]:
        for plot in plots:
            progress(1)
            yield plot

    overview = next(drawn(_overview_plot(debrief)), None)
    groups = list(flown_flows(debrief))
    flow_plots = tuple(zip((items[0] for items in groups), drawn(_flow_plots(debrief, groups)), strict=True))
    details = [detail for detail in debrief.findings if detail.evidence is not None]
    findings = {
        detail.finding.number: plot
        for detail, plot in zip(details, drawn(map(_finding_plot, details)), strict=True)
    }
    traces = tuple(drawn(_trace_plot(debrief, index, trace) for index, trace in enumerate(debrief.traces)))
    return Plots(overview, flow_plots, findings, traces)


def plot_count(debrief: DebriefData) -> int:
    """Count the plots that `draw_all` will draw."""
    evidence = sum(detail.evidence is not None for detail in debrief.findings)
    return bool(debrief.item_histories) + len(list(flown_flows(debrief))) + evidence + len(debrief.traces)


def flown_flows(debrief: DebriefData) -> Iterator[list[ItemHistory]]:
    """The items of each flow that was flown, in the order of the flight."""
    by_flow: dict[str, list[ItemHistory]] = {}
    for item in debrief.item_histories:
        if item.intervals and window_of(item, debrief.phases) is not None:
            by_flow.setdefault(item.flow, []).append(item)
    yield from sorted(by_flow.values(), key=lambda items: (window_of(items[0], debrief.phases) or (0.0,))[0])


def _overview_plot(debrief: DebriefData) -> Iterator[Plot]:
    if debrief.item_histories and debrief.phases:
        gaps = gaps_within(debrief.gaps, debrief.phases[0].from_s, debrief.phases[-1].to_s)
        known = [item for item in debrief.item_histories if item.intervals]
        svg = draw_overview(debrief.phases, known, debrief.findings, debrief.seats, gaps)
        yield Plot("overview", "Timeline", svg, gaps=gaps)


def _flow_plots(debrief: DebriefData, groups: Sequence[list[ItemHistory]]) -> Iterator[Plot]:
    """Draw the items of each flow that were not met throughout; if there are none the plot has no SVG."""
    for items in groups:
        anchor, title = f"flow-{items[0].flow}", items[0].flow_title
        shown, met = flow_plot.split_met(items, debrief.phases)
        gaps = gaps_within(debrief.gaps, *window_in_session(items[0], debrief.phases))
        svg = (
            flow_plot.draw_flow(anchor, shown, debrief.phases, debrief.findings, debrief.seats, gaps)
            if shown
            else ""
        )
        yield Plot(anchor, title, svg, met_labels=met, gaps=gaps)


def _finding_plot(detail: FindingDetail) -> Plot:
    """Draw the signals around a finding with marks at its opening and its end."""
    evidence, number = detail.evidence, detail.finding.number
    assert evidence is not None  # noqa: S101 - findings without evidence are left out before
    traces = [PlotTrace(s.signal, s.label, s.unit, s.words, s.times_s, s.values) for s in evidence.series]
    marks = [PlotMark(detail.at_s, f"{number} opened", is_finding=True)]
    if detail.closed_at_s is not None and detail.closed_at_s <= evidence.to_s:
        finding = detail.finding
        end = "waived" if finding.waived else "corrected" if finding.corrected else "past"
        marks.append(PlotMark(detail.closed_at_s, end))
    limits = [PlotLimit(b.signal, b.value, b.label) for b in evidence.limits]
    anchor, title = f"plot-{number}", f"Finding {number}: {detail.finding.label}"
    description = f"{detail.finding.sentence}; opened at {format_sim_time(detail.at_s)}."
    span = evidence.from_s, evidence.to_s
    svg = draw_traces(anchor, title, description, traces, limits, marks, span, evidence.gaps)
    part = (detail.at_s - evidence.from_s) / max(evidence.to_s - evidence.from_s, 1.0)
    omitted = (*evidence.omitted_labels, *_omitted_labels(traces))
    position = PLOT_AREA_LEFT + PLOT_AREA_WIDTH * part
    return Plot(anchor, title, svg, omitted, finding_position=position, gaps=evidence.gaps)


def _trace_plot(debrief: DebriefData, index: int, trace: DebriefTrace) -> Plot:
    """Draw a trace with its limits, events and findings."""
    record, shift_s = trace.record, trace.at_s - trace.record.began_s
    times = tuple(time_s + shift_s for time_s in record.times_s)
    traces = [
        PlotTrace(c.signal, c.label, c.unit, () if c.unit else _distinct_words(c.values), times, c.values)
        for c in record.columns
    ]
    marks = [PlotMark(mark.sim_s + shift_s, mark.label) for mark in record.marks]
    to_s = max(times[-1] if times else trace.at_s, trace.at_s + 1.0)
    details = [detail for detail in debrief.findings if _belongs_to(detail, trace, to_s)]
    marks += [PlotMark(detail.at_s, str(detail.finding.number), is_finding=True) for detail in details]
    limits = list(_trace_limits(trace, traces))
    shown, constant = split_constant(traces, [limit.signal for limit in limits])
    broken = [_broken_at_gaps(one, trace.gaps) for one in shown]
    anchor = f"trace-{index + 1}"
    description = f"{record.title}, {format_sim_time(trace.at_s)}, {record.ended_s - record.began_s:.0f} s; {len(record.marks)} events."
    return Plot(
        anchor,
        record.title,
        draw_traces(anchor, record.title, description, broken, limits, marks, (trace.at_s, to_s), trace.gaps),
        _omitted_labels(shown),
        tuple(map(constant_text, constant)),
        findings=tuple(detail.finding.number for detail in details),
        constant_signals=frozenset(one.signal for one in constant),
        gaps=trace.gaps,
    )


def _broken_at_gaps(trace: PlotTrace, gaps: Sequence[DataGap]) -> PlotTrace:
    """Break the line of a trace where data were missing."""
    times, values = break_samples(trace.times_s, trace.values, gaps)
    return replace(trace, times_s=tuple(times), values=tuple(values))


def _belongs_to(detail: FindingDetail, trace: DebriefTrace, to_s: float) -> bool:
    """True if the trace names the finding, or if the finding opened within it and its evidence shares a signal with it."""
    if detail.finding.number in trace.record.findings:
        return True
    shown = {column.signal for column in trace.record.columns}
    shares_signal = detail.evidence is not None and any(one.signal in shown for one in detail.evidence.series)
    return shares_signal and trace.at_s <= detail.at_s <= to_s


def _trace_limits(trace: DebriefTrace, plot_traces: Sequence[PlotTrace]) -> Iterator[PlotLimit]:
    """The limits of a trace; a deviation has its limit on both sides, a control check has full travel on both sides."""
    for limit in trace.record.limits:
        yield PlotLimit(limit.signal, limit.value, limit.label)
        if limit.signal in DEVIATION_SIGNALS:
            yield PlotLimit(limit.signal, -limit.value, limit.label)
    if trace.record.trace.rpartition(".")[2] == CONTROL_CHECK_ID:
        for plot_trace in plot_traces:
            if plot_trace.unit == "%":
                for sign in (-1, 1):
                    yield PlotLimit(plot_trace.signal, sign * FULL_TRAVEL_PERCENT, "full travel")


def _distinct_words(values: Sequence[object]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(str(value) for value in values if value is not None))


def _omitted_labels(traces: Sequence[PlotTrace]) -> tuple[str, ...]:
    """The labels of traces for which a plot has no room."""
    shown = {trace.signal for panel in plot_panels(traces) for trace in panel}
    return tuple(trace.label for trace in traces if trace.signal not in shown)
