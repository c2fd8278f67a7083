"""Which plots a debrief has, and what goes into each.

Takes: an account.  Gives: `Plot`s.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from bridge.debrief.account import Account, Bar, Case, Strip
from bridge.debrief.drawing import flows
from bridge.debrief.drawing.bars import window_of
from bridge.debrief.drawing.overview import draw_overview
from bridge.debrief.drawing.panels import Trace, panels_of, parted, said
from bridge.debrief.drawing.traces import Limit, Moment, draw_traces
from bridge.screen import clock

SWEEP = "control_check"
FULL_PERCENT = 90.0
"""Full travel of a control, as the packs have it for their checks."""
DEVIATIONS = ("navigation.localizer", "navigation.glide_path")
FIELD_FROM, FIELD_WIDE = 0.1, 0.85
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
    left_out: tuple[str, ...] = ()
    still: tuple[str, ...] = ()
    met: tuple[str, ...] = ()
    findings: tuple[int, ...] = ()
    stood: frozenset[str] = frozenset()
    at: float = 0.0


@dataclass(frozen=True, slots=True)
class Plots:
    """All plots of a debrief: of findings by their numbers, of strips and flows in their order."""

    overview: Plot | None
    flows: tuple[tuple[Bar, Plot], ...]
    findings: dict[int, Plot]
    strips: tuple[Plot, ...]

    def strip_of(self, number: int) -> Plot | None:
        """The first strip in which a finding is marked."""
        return next((strip for strip in self.strips if number in strip.findings), None)


def draw_all(account: Account, progress: Progress = lambda _: None) -> Plots:
    """Draw everything.

    Args:
        account: the session.
        progress: hears of each plot that is drawn.
    """

    def drawn(plots: Iterator[Plot]) -> Iterator[Plot]:
        for plot in plots:
            progress(1)
            yield plot

    overview = next(drawn(_overview(account)), None)
    groups = list(flown(account))
    flown_plots = tuple(zip((bars[0] for bars in groups), drawn(_flows(account, groups)), strict=True))
    cases = [case for case in account.cases if case.evidence is not None]
    findings = {c.finding.number: plot for c, plot in zip(cases, drawn(map(_finding, cases)), strict=True)}
    strips = tuple(drawn(_strip(account, at, strip) for at, strip in enumerate(account.strips)))
    return Plots(overview, flown_plots, findings, strips)


def how_many(account: Account) -> int:
    """How many plots it will have."""
    evidence = sum(case.evidence is not None for case in account.cases)
    return bool(account.bars) + len(list(flown(account))) + evidence + len(account.strips)


def flown(account: Account) -> Iterator[list[Bar]]:
    """The items of each flow that was flown, flow by flow, in the order of the flight."""
    flows: dict[str, list[Bar]] = {}
    for bar in account.bars:
        if window_of(bar, account.stages) is not None:
            flows.setdefault(bar.flow, []).append(bar)
    yield from sorted(flows.values(), key=lambda bars: (window_of(bars[0], account.stages) or (0.0,))[0])


def _overview(account: Account) -> Iterator[Plot]:
    if account.bars and account.stages:
        svg = draw_overview(account.stages, account.bars, account.cases, account.seats)
        yield Plot("overview", "Timeline", svg)


def _flows(account: Account, groups: Sequence[list[Bar]]) -> Iterator[Plot]:
    """Of each flow what was not met throughout; where all was, there is nothing to draw."""
    for bars in groups:
        anchor, title = f"flow-{bars[0].flow}", bars[0].flow_title
        shown, met = flows.parted(bars, account.stages)
        drawn = flows.draw_flow(anchor, shown, account.stages, account.cases, account.seats) if shown else ""
        yield Plot(anchor, title, drawn, met=met)


def _finding(case: Case) -> Plot:
    """The signals around a finding, with when it opened and closed."""
    evidence, number = case.evidence, case.finding.number
    assert evidence is not None  # noqa: S101 - those without are left out before
    traces = [Trace(s.signal, s.label, s.unit, s.words, s.times_s, s.values) for s in evidence.series]
    moments = [Moment(case.at_s, f"{number} found", grave=True)]
    if case.closed_at_s is not None and case.closed_at_s <= evidence.to_s:
        moments.append(Moment(case.closed_at_s, "put right"))
    limits = [Limit(b.signal, b.value, b.label) for b in evidence.bounds]
    anchor, title = f"plot-{number}", f"Finding {number}: {case.finding.label}"
    says = f"{case.finding.sentence}; found at {clock(case.at_s)}."
    svg = draw_traces(anchor, title, says, traces, limits, moments, (evidence.from_s, evidence.to_s))
    at = FIELD_FROM + FIELD_WIDE * (case.at_s - evidence.from_s) / max(evidence.to_s - evidence.from_s, 1.0)
    return Plot(anchor, title, svg, (*evidence.left_out, *_left_out(traces)), at=at)


def _strip(account: Account, at: int, strip: Strip) -> Plot:
    """A strip with its limits, events and findings."""
    kept, shift_s = strip.kept, strip.at_s - strip.kept.began_s
    times = tuple(time_s + shift_s for time_s in kept.times_s)
    traces = [
        Trace(c.signal, c.label, c.unit, () if c.unit else _words(c.values), times, c.values)
        for c in kept.columns
    ]
    moments = [Moment(mark.sim_s + shift_s, mark.label) for mark in kept.marks]
    to_s = max(times[-1] if times else strip.at_s, strip.at_s + 1.0)
    found = [case for case in account.cases if _stands_in(case, strip, to_s)]
    moments += [Moment(case.at_s, str(case.finding.number), grave=True) for case in found]
    limits = list(_limits(strip, traces))
    drawn, still = parted(traces, [limit.signal for limit in limits])
    anchor = f"strip-{at + 1}"
    says = (
        f"{kept.title}, {clock(strip.at_s)}, {kept.ended_s - kept.began_s:.0f} s; {len(kept.marks)} events."
    )
    svg = draw_traces(anchor, kept.title, says, drawn, limits, moments, (strip.at_s, to_s))
    numbers = tuple(case.finding.number for case in found)
    return Plot(
        anchor,
        kept.title,
        svg,
        _left_out(drawn),
        tuple(map(said, still)),
        findings=numbers,
        stood=frozenset(one.signal for one in still),
    )


def _stands_in(case: Case, strip: Strip, to_s: float) -> bool:
    """Whether a finding is about a strip, or came up within it and is about something that it has."""
    if case.finding.number in strip.kept.findings:
        return True
    shown = {column.signal for column in strip.kept.columns}
    seen = case.evidence is not None and any(one.signal in shown for one in case.evidence.series)
    return seen and strip.at_s <= case.at_s <= to_s


def _limits(strip: Strip, traces: Sequence[Trace]) -> Iterator[Limit]:
    """The limits of a strip; a deviation has its limit on either side, a sweep goes as far as full travel."""
    for limit in strip.kept.limits:
        yield Limit(limit.signal, limit.value, limit.label)
        if limit.signal in DEVIATIONS:
            yield Limit(limit.signal, -limit.value, limit.label)
    if strip.kept.strip.rpartition(".")[2] == SWEEP:
        for trace in traces:
            if trace.unit == "%":
                yield from (Limit(trace.signal, sign * FULL_PERCENT, "full travel") for sign in (-1, 1))


def _words(values: Sequence[object]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(str(value) for value in values if value is not None))


def _left_out(traces: Sequence[Trace]) -> tuple[str, ...]:
    """What there is no room for in a plot."""
    shown = {trace.signal for panel in panels_of(traces) for trace in panel}
    return tuple(trace.label for trace in traces if trace.signal not in shown)
