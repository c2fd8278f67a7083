"""A tape judged at once says what the live core says of the same inputs, to the byte, whatever went in."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from rules.arithmetic.impossible import Impossible
from rules.language import checked as c
from rules.packs.model import (
    CalloutRule,
    Figure,
    Level,
    Moment,
    Pack,
    Phase,
    Quiet,
    Strip,
    StripMark,
    TimeRule,
    Watch,
)
from rules.signals.model import Frame, Kind, Quality, Sample, Signal
from tests.rules.judge.batch.both import Ask, Tick, Went, told_at_once, told_live
from tests.rules.judge.making import (
    AT_REST,
    BEACON,
    HEADING,
    HEIGHT,
    LIGHT,
    MODE,
    PROBE,
    PUMP,
    SHEET,
    SIGNALS,
    SPEED,
    Rules,
    Sheet,
    above,
    called,
    go,
    item,
    number,
    on,
    push,
    same,
)

TURN, TWICE = number("figure.turn", "deg", max_age_s=0.0), number("figure.twice", "deg", max_age_s=0.0)
CLOCK = Signal("clock.utc", Kind.QUANTITY, 31, "clock", "a clock", "s", 0.0, 86400.0)
NAMES = (*AT_REST, "clock.utc")


def _turn(heading: float, wanted: float) -> float:
    """A sum that is not made of some numbers."""
    if heading > 100:
        raise Impossible(f"a heading of {heading:g}", "up to 100")
    return heading - wanted


def _read(signal: Signal) -> c.Term:
    return c.Read(signal, unit=signal.unit)


def pack() -> Pack:
    """A pack with a bit of everything, in which little is needed for much to happen."""
    beacon, pump = item("beacon", on(BEACON)), replace(item("pump", on(PUMP)), after=called("ground_clear"))
    probe = replace(item("probe", c.Held(on(PROBE), 1.5)), follows=(beacon.id,), hold_s=0.0)
    mode = item("mode", c.WordIs(MODE, ("on",)), level=Level.WARNING)
    heading = item("heading", same(HEADING, SHEET))
    papers = item("papers", None, confirm="Papers on board")
    whole = item("whole", c.All((c.ItemMet(papers.id, "papers"), c.ItemMet(beacon.id, "beacon"))))
    turn = item("turn", c.Relation(_read(TWICE), "<=", c.Const(40.0, "deg")))
    steady = c.Relation(c.Windowed("change", _read(HEIGHT), 2.0, "ft"), "<", c.Const(5.0, "ft"))
    level = item("level", c.Since(steady, c.Rise(on(BEACON))))
    items = [beacon, pump, probe, mode, heading, papers, whole, turn, level]
    needs = [each.id for each in items]
    watch = Watch("watch.w", "Light", "captain", Level.CAUTION, on(BEACON), on(LIGHT), hold_s=1.0)
    high = c.Relation(c.Windowed("highest", _read(HEIGHT), 3.0, "ft"), "<", c.Const(30.0, "ft"))
    low = Watch("watch.low", "Height", "captain", Level.WARNING, None, high, phases=("pushing",))
    back = replace(push(()), id="back", phase="stand", leaves=("rolling",), cue=on(LIGHT), entry=on(PROBE))
    made = Rules(
        items,
        gates=[back, replace(push(needs), cue=above(HEADING, 10)), go(needs[:2])],
        watches=[watch, low],
        quiets=[Quiet("q", above(HEADING, 50), (Level.CAUTION,))],
    ).pack()
    strip = Strip(
        "strip.s",
        "Strip",
        on(PUMP),
        above(SPEED, 40),
        ("speed", "beacon", "figure.turn"),
        1.0,
        6.0,
        marks=(StripMark("light", on(LIGHT)),),
        about=frozenset({"watch.w", "watch.low"}),
    )
    figures = (
        Figure(TURN, _turn, {"heading": _read(HEADING), "wanted": _read(SHEET)}, {}, 1.0, 0.0, "turn", "x"),
        Figure(
            TWICE, _turn, {"heading": _read(TURN), "wanted": _read(HEIGHT)}, {}, 2.0, 1.0, "twice", "y", 5.0
        ),
    )
    return replace(
        made,
        signals={**SIGNALS, "clock.utc": CLOCK, TURN.name: TURN, TWICE.name: TWICE},
        phases=(*made.phases, Phase("there", "There", "STD")),
        figures=figures,
        strips=(strip,),
        callouts=(CalloutRule("callout.c", "{heading} degrees", c.Held(above(SPEED, 1), 0.5)),),
        times=(TimeRule(Moment.OUT, above(SPEED, 1)), TimeRule(Moment.OFF, above(HEIGHT, 20))),
    )


PACK = pack()
VALUES: dict[str, st.SearchStrategy[object]] = {
    "mode": st.sampled_from(["off", "standby", "on", "nonsense"]),
    "heading": st.sampled_from([0.0, 20, 60.0, 150.0, float("nan")]),
    "speed": st.sampled_from([0.0, 3.0, 50.0, 2e6, "fast"]),
    "height": st.sampled_from([0.0, 4.0, 25.0, 60.0]),
    "clock.utc": st.sampled_from([10.0, 86399.0]),
}
SWITCH = st.sampled_from(["off", "on"])
ASKED = st.one_of(
    st.builds(Ask, st.sampled_from(["call", "call", "retract"]), st.sampled_from(["ready", "cleared", "ground_clear", "no"])),
    st.builds(Ask, st.sampled_from(["confirm", "excuse"]), st.sampled_from([f"flow.before.{n}" for n in ("papers", "beacon", "mode")])),
    st.builds(Ask, st.just("amend"), values=st.sampled_from([(("trip.heading", 20.0),), (("trip.heading", 0.0),), (("trip.no", 1.0),)])),
)  # fmt: skip


@st.composite
def inputs(draw: st.DrawFn) -> list[Went]:
    """Frames of one link or two, silences, jumps back, pauses, requests."""
    now_s, recv_s, epoch, made = draw(st.sampled_from([0.0, 100.0])), 50.0, 0, list[Went]()
    for _ in range(draw(st.integers(1, 25))):
        what = draw(st.sampled_from(["frame"] * 8 + ["tick", "ask", "jump", "gap"]))
        by_s = draw(st.sampled_from([0.0, 0.25, 0.5, 1.0, 4.0]))
        recv_s += by_s
        if what == "tick":
            made.append(Tick(recv_s))
            continue
        if what == "ask":
            made.append(draw(ASKED))
            continue
        now_s, epoch = (by_s, epoch + 1) if what == "jump" else (now_s + by_s, epoch)
        recv_s += 30.0 if what == "gap" else 0.0
        made.append(draw(frames(now_s, recv_s, epoch)))
    return made


@st.composite
def frames(draw: st.DrawFn, now_s: float, recv_s: float, epoch: int) -> Frame:
    """One frame: some signals carried, some of them changed, some without a value."""
    carried = draw(st.sampled_from([NAMES, NAMES, NAMES[:4], NAMES[4:]]))
    changed = draw(st.lists(st.sampled_from(carried), unique=True, max_size=5))
    samples = []
    for name in changed:
        value = draw(VALUES.get(name, SWITCH))
        lost = draw(st.sampled_from([False, False, False, False, True]))
        quality = Quality.INVALID if lost else Quality.FRESH
        samples.append(Sample(name, None if lost else value, quality, now_s))  # type: ignore[arg-type]
    calls = draw(st.sampled_from([(), (), (), (), ("ready",), ("cleared", "unknown")]))
    return Frame("test", now_s, recv_s, epoch, carried, samples, calls)


@settings(max_examples=400, deadline=None)
@given(inputs())
def test_at_once_is_as_live(went: list[Went]) -> None:
    """Verdicts, findings, notices, callouts, times, strips: every entry is the same, in the same order."""
    trip = Sheet({"trip.heading": 20.0})
    assert told_at_once(PACK, trip, went) == told_live(PACK, trip, went)
