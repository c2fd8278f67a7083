"""Which plots a debrief has, and what goes into each.

Takes: an account.  Gives: `Plot`s.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from bridge.debrief.drawing import flow_plot
from bridge.debrief.drawing.flow_marks import window_of
from bridge.debrief.drawing.overview_plot import draw_overview
from bridge.debrief.drawing.panel_layout import PlotTrace, constant_text, plot_panels, split_constant
from bridge.debrief.drawing.trace_plot import PlotLimit, PlotMark, draw_traces
from bridge.debrief.model import DebriefData, DebriefTrace, FindingDetail, ItemHistory
from bridge.terminal.live_view import format_sim_time

CONTROL_CHECK_ID = "control_check"
FULL_TRAVEL_PERCENT = 90.0
"""Full travel of a control, as the packs have it for their checks."""
DEVIATION_SIGNALS = ("navigation.localizer", "navigation.glide_path")
PLOT_AREA_LEFT, PLOT_AREA_WIDTH = 0.1, 0.85
"""About where the field of a plot begins, and how wide it is, as parts of the plot."""
Progress = Callable[[int], None]


@dataclass(frozen=True, slots=True)
class Plot:
    """One plot: its anchor in the page, and the SVG.

    `left_out` names what there was no room for, `still` says what did not move and so is not drawn (`stood` has its
    signals), `met` names the items of a flow that were met throughout, `findings` has the numbers of those that are marked
    in a strip; `at` is where across the plot its finding stands, 0 for none.
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


@dataclass(frozen=True, slots=True)
class Plots:
    """All plots of a debrief: of findings by their numbers, of strips and flows in their order."""

    overview: Plot | None
    flows: tuple[tuple[ItemHistory, Plot], ...]
    findings: dict[int, Plot]
    traces: tuple[Plot, ...]

    def trace_of(self, number: int) -> Plot | None:
        """The first strip in which a finding is marked."""
        return next((strip for strip in self.traces if number in strip.findings), None)


def draw_all(debrief: DebriefData, progress: Progress = lambda _: None) -> Plots:
    """Draw everything.

    Args:
        debrief: the session.
        progress: hears of each plot that is drawn.
    """

    def drawn(plots: Iterator[Plot]) -> Iterator[Plot]:
        for plot in plots:
            progress(1)
            yield plot

    overview = next(drawn(_overview_plot(debrief)), None)
    groups = list(flown_flows(debrief))
    flown_plots = tuple(zip((bars[0] for bars in groups), drawn(_flow_plots(debrief, groups)), strict=True))
    cases = [case for case in debrief.findings if case.evidence is not None]
    findings = {
        c.finding.number: plot for c, plot in zip(cases, drawn(map(_finding_plot, cases)), strict=True)
    }
    strips = tuple(drawn(_trace_plot(debrief, at, strip) for at, strip in enumerate(debrief.traces)))
    return Plots(overview, flown_plots, findings, strips)


def plot_count(debrief: DebriefData) -> int:
    """How many plots it will have."""
    evidence = sum(case.evidence is not None for case in debrief.findings)
    return bool(debrief.item_histories) + len(list(flown_flows(debrief))) + evidence + len(debrief.traces)


def flown_flows(debrief: DebriefData) -> Iterator[list[ItemHistory]]:
    """The items of each flow that was flown, flow by flow, in the order of the flight."""
    by_flow: dict[str, list[ItemHistory]] = {}
    for bar in debrief.item_histories:
        if window_of(bar, debrief.phases) is not None:
            by_flow.setdefault(bar.flow, []).append(bar)
    yield from sorted(by_flow.values(), key=lambda bars: (window_of(bars[0], debrief.phases) or (0.0,))[0])


def _overview_plot(debrief: DebriefData) -> Iterator[Plot]:
    if debrief.item_histories and debrief.phases:
        svg = draw_overview(debrief.phases, debrief.item_histories, debrief.findings, debrief.seats)
        yield Plot("overview", "Timeline", svg)


def _flow_plots(debrief: DebriefData, groups: Sequence[list[ItemHistory]]) -> Iterator[Plot]:
    """Of each flow what was not met throughout; where all was, there is nothing to draw."""
    for bars in groups:
        anchor, title = f"flow-{bars[0].flow}", bars[0].flow_title
        shown, met = flow_plot.split_met(bars, debrief.phases)
        drawn = (
            flow_plot.draw_flow(anchor, shown, debrief.phases, debrief.findings, debrief.seats)
            if shown
            else ""
        )
        yield Plot(anchor, title, drawn, met_labels=met)


def _finding_plot(detail: FindingDetail) -> Plot:
    """The signals around a finding, with when it opened and closed."""
    evidence, number = detail.evidence, detail.finding.number
    assert evidence is not None  # noqa: S101 - those without are left out before
    traces = [PlotTrace(s.signal, s.label, s.unit, s.words, s.times_s, s.values) for s in evidence.series]
    moments = [PlotMark(detail.at_s, f"{number} found", is_finding=True)]
    if detail.closed_at_s is not None and detail.closed_at_s <= evidence.to_s:
        moments.append(PlotMark(detail.closed_at_s, "put right"))
    limits = [PlotLimit(b.signal, b.value, b.label) for b in evidence.limits]
    anchor, title = f"plot-{number}", f"Finding {number}: {detail.finding.label}"
    says = f"{detail.finding.sentence}; found at {format_sim_time(detail.at_s)}."
    svg = draw_traces(anchor, title, says, traces, limits, moments, (evidence.from_s, evidence.to_s))
    at = PLOT_AREA_LEFT + PLOT_AREA_WIDTH * (detail.at_s - evidence.from_s) / max(
        evidence.to_s - evidence.from_s, 1.0
    )
    return Plot(anchor, title, svg, (*evidence.left_out, *_omitted_labels(traces)), finding_position=at)


def _trace_plot(debrief: DebriefData, at: int, trace: DebriefTrace) -> Plot:
    """A strip with its limits, events and findings."""
    kept, shift_s = trace.record, trace.at_s - trace.record.began_s
    times = tuple(time_s + shift_s for time_s in kept.times_s)
    traces = [
        PlotTrace(c.signal, c.label, c.unit, () if c.unit else _distinct_words(c.values), times, c.values)
        for c in kept.columns
    ]
    moments = [PlotMark(mark.sim_s + shift_s, mark.label) for mark in kept.marks]
    to_s = max(times[-1] if times else trace.at_s, trace.at_s + 1.0)
    found = [case for case in debrief.findings if _belongs_to(case, trace, to_s)]
    moments += [PlotMark(case.at_s, str(case.finding.number), is_finding=True) for case in found]
    limits = list(_trace_limits(trace, traces))
    drawn, still = split_constant(traces, [limit.signal for limit in limits])
    anchor = f"trace-{at + 1}"
    says = f"{kept.title}, {format_sim_time(trace.at_s)}, {kept.ended_s - kept.began_s:.0f} s; {len(kept.marks)} events."
    svg = draw_traces(anchor, kept.title, says, drawn, limits, moments, (trace.at_s, to_s))
    numbers = tuple(case.finding.number for case in found)
    return Plot(
        anchor,
        kept.title,
        svg,
        _omitted_labels(drawn),
        tuple(map(constant_text, still)),
        findings=numbers,
        constant_signals=frozenset(one.signal for one in still),
    )


def _belongs_to(detail: FindingDetail, trace: DebriefTrace, to_s: float) -> bool:
    """Whether a finding is about a strip, or came up within it and is about something that it has."""
    if detail.finding.number in trace.record.findings:
        return True
    shown = {column.signal for column in trace.record.columns}
    seen = detail.evidence is not None and any(one.signal in shown for one in detail.evidence.series)
    return seen and trace.at_s <= detail.at_s <= to_s


def _trace_limits(strip: DebriefTrace, traces: Sequence[PlotTrace]) -> Iterator[PlotLimit]:
    """The limits of a strip; a deviation has its limit on either side, a sweep goes as far as full travel."""
    for limit in strip.record.limits:
        yield PlotLimit(limit.signal, limit.value, limit.label)
        if limit.signal in DEVIATION_SIGNALS:
            yield PlotLimit(limit.signal, -limit.value, limit.label)
    if strip.record.trace.rpartition(".")[2] == CONTROL_CHECK_ID:
        for trace in traces:
            if trace.unit == "%":
                yield from (
                    PlotLimit(trace.signal, sign * FULL_TRAVEL_PERCENT, "full travel") for sign in (-1, 1)
                )


def _distinct_words(values: Sequence[object]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(str(value) for value in values if value is not None))


def _omitted_labels(traces: Sequence[PlotTrace]) -> tuple[str, ...]:
    """What there is no room for in a plot."""
    shown = {trace.signal for panel in plot_panels(traces) for trace in panel}
    return tuple(trace.label for trace in traces if trace.signal not in shown)
