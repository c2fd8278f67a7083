"""What the crew is told, when, how often, and what is held back."""

from __future__ import annotations

from rules.judge.entries import FindingOpened, Notice
from rules.judge.notices import BACK_OFF_S
from rules.packs.model import FindingKind, Level, Quiet, Watch
from tests.rules.judge.making import (
    AT_REST,
    BEACON,
    HEADING,
    HEIGHT,
    LIGHT,
    PROBE,
    PUMP,
    Flight,
    Rules,
    above,
    item,
    on,
    only,
    push,
    replace,
    told,
)

BEACON_ON, PUMP_ON = item("beacon", on(BEACON)), item("pump", on(PUMP))
PROBE_ON = item("probe", on(PROBE), level=Level.WARNING)
ROLL = Quiet("roll", above(HEADING, 10), (Level.ADVISORY, Level.CAUTION))


def notices(flight: Flight) -> list[tuple[float, int]]:
    """When notices were given, and how often the same was told before."""
    return [(n.sim_s, n.repeats) for n in only(flight.entries, Notice)]


def test_a_notice_carries_seat_level_item_and_finding() -> None:
    """A notice says who, how grave, what and which finding."""
    flight = Flight(Rules([BEACON_ON]))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(2)
    notice = only(flight.entries, Notice)[0]
    assert (notice.seat, notice.level, notice.item, notice.gate, notice.finding) == (
        "captain",
        Level.CAUTION,
        BEACON_ON.id,
        "push",
        1,
    )


def test_repeats_back_off() -> None:
    """An open item is told again after a growing interval, the last of which goes on."""
    flight = Flight(Rules([BEACON_ON]))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.until(2, 400)
    first, second, rest = BACK_OFF_S
    times = [2.0, 2 + first, 2 + first + second, 2 + first + second + rest, 2 + first + second + 2 * rest]
    assert notices(flight) == [(time, count) for count, time in enumerate(times)]


def test_no_repeats_after_the_entry() -> None:
    """Once the gate is behind, what is carried is not told again."""
    flight = Flight(Rules([BEACON_ON]))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(10, speed=3.0)
    flight.until(11, 200)
    assert notices(flight) == [(2.0, 0)]


def test_no_repeats_while_the_gate_waits() -> None:
    """Without its cue the gate does not nag; when it is cued again, what is overdue is told."""
    gate = replace(push([BEACON_ON.id]), cue=on(LIGHT))
    flight = Flight(Rules([BEACON_ON], gates=[gate]))
    flight.at(0)
    flight.at(1, light="on")
    flight.at(5, light="off")
    flight.at(100, light="on")
    flight.at(101)
    assert notices(flight) == [(2.0, 0), (100.0, 1)]


def test_cued_again_within_the_back_off_waits_for_it() -> None:
    """A cue that comes back soon does not tell anew before the back-off is over."""
    gate = replace(push([BEACON_ON.id]), cue=on(LIGHT))
    flight = Flight(Rules([BEACON_ON], gates=[gate]))
    flight.at(0)
    for second in range(1, 31):
        flight.at(float(second), light="on" if second % 3 else "off")
    flight.at(31, light="on")
    flight.until(32, 40)
    assert notices(flight) == [(2.0, 0), (32.0, 1)]


def test_undone_is_always_news() -> None:
    """What was mended and is undone is told at once, also within the back-off."""
    flight = Flight(Rules([BEACON_ON]))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(4, beacon="on")
    flight.at(7, beacon="off")
    flight.until(8, 20)
    assert notices(flight) == [(2.0, 0), (8.0, 0)]
    assert told(flight.entries)[1].startswith("Undone: ")


def test_opening_anew_within_the_back_off_waits() -> None:
    """A watch that fails again soon is on the record at once, and told when the back-off is over."""
    watch = Watch("w", "Beacon", "captain", Level.CAUTION, None, on(BEACON), clear_s=1.0)
    flight = Flight(Rules([], watches=[watch]))
    flight.at(0)
    flight.at(5, beacon="on")
    flight.at(10, beacon="off")
    flight.until(11, 29)
    assert [e.sim_s for e in only(flight.entries, FindingOpened)] == [0, 10]
    assert notices(flight) == [(0, 0)]
    flight.at(30)
    assert notices(flight) == [(0, 0), (30, 0)]


def test_gravest_first() -> None:
    """Of what is told in one step the gravest comes first, then the order of the record."""
    flight = Flight(Rules([BEACON_ON, PUMP_ON, PROBE_ON]))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(2)
    assert [n.item.rpartition(".")[2] for n in only(flight.entries, Notice)] == ["probe", "beacon", "pump"]


def test_quiet_holds_back_and_sums_up() -> None:
    """While it is quiet cautions are held back but recorded; afterwards one notice tells what is still open."""
    flight = Flight(Rules([BEACON_ON, PUMP_ON], quiets=[ROLL]))
    flight.at(0, heading=20.0)
    flight.at(1, ["ready"])
    flight.until(2, 9)
    assert flight.kinds == ["omitted beacon", "omitted pump"]
    assert told(flight.entries) == []
    flight.at(10, heading=0.0)
    assert len(told(flight.entries)) == 1
    assert told(flight.entries)[0].startswith("2 still open: ")
    notice = only(flight.entries, Notice)[0]
    assert (notice.seat, notice.level, notice.item, notice.finding) == ("captain", Level.CAUTION, "", 0)
    flight.until(11, 41)
    assert [n.sim_s for n in only(flight.entries, Notice)] == [10, 40, 40]


def test_what_was_mended_in_the_quiet_is_not_told() -> None:
    """The summing up leaves out what is mended; one that is left is told plainly, with its finding."""
    flight = Flight(Rules([BEACON_ON, PUMP_ON], quiets=[ROLL]))
    flight.at(0, heading=20.0)
    flight.at(1, ["ready"])
    flight.at(5, beacon="on")
    flight.at(10, heading=0.0)
    notice = only(flight.entries, Notice)[0]
    assert (notice.item, notice.finding) == (PUMP_ON.id, 2)
    assert notice.sentence.startswith("Still open: pump")


def test_nothing_left_open_nothing_summed_up() -> None:
    """A quiet period after which nothing is open ends in silence."""
    flight = Flight(Rules([BEACON_ON], quiets=[ROLL]))
    flight.at(0, heading=20.0)
    flight.at(1, ["ready"])
    flight.at(5, beacon="on")
    flight.at(10, heading=0.0)
    assert told(flight.entries) == []


def test_a_warning_is_never_held_by_a_quiet_for_less() -> None:
    """A quiet that names advisory and caution lets a warning through."""
    flight = Flight(Rules([BEACON_ON, PROBE_ON], quiets=[ROLL]))
    flight.at(0, heading=20.0)
    flight.at(1, ["ready"])
    flight.at(2)
    assert [n.level for n in only(flight.entries, Notice)] == [Level.WARNING]


def test_repeats_are_held_too() -> None:
    """What was told before the quiet is not repeated in it, but summed up at its end."""
    flight = Flight(Rules([BEACON_ON], quiets=[ROLL]))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(10, heading=20.0)
    flight.until(11, 60)
    assert notices(flight) == [(2.0, 0)]
    flight.at(61, heading=0.0)
    assert [n.sim_s for n in only(flight.entries, Notice)] == [2.0, 61]


def test_quiet_goes_on_when_its_signal_is_lost() -> None:
    """A quiet period whose signal goes out of date goes on; one that was never known does not begin."""
    flight = Flight(Rules([BEACON_ON], quiets=[ROLL]))
    flight.at(0, heading=20.0)
    del flight.values["heading"]
    flight.until(1, 9)
    flight.at(10, ["ready"])
    flight.at(11)
    assert told(flight.entries) == []
    assert flight.core.quiet
    start = {k: v for k, v in AT_REST.items() if k != "heading"}
    flight = Flight(Rules([BEACON_ON], quiets=[ROLL]), start=start)
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(2)
    assert len(told(flight.entries)) == 1


def test_overlapping_quiets_release_level_by_level() -> None:
    """When one of two quiets ends, only the levels that no other holds are released."""
    advisory = item("light", on(LIGHT), level=Level.ADVISORY)
    low = Quiet("low", above(HEIGHT, 10), (Level.ADVISORY,))
    flight = Flight(Rules([BEACON_ON, advisory], quiets=[ROLL, low]))
    flight.at(0, heading=20.0, height=20.0)
    flight.at(1, ["ready"])
    flight.at(3, heading=0.0)
    assert [n.item for n in only(flight.entries, Notice)] == [BEACON_ON.id]
    flight.at(4, height=0.0)
    assert [n.item for n in only(flight.entries, Notice)] == [BEACON_ON.id, advisory.id]


def test_every_notice_has_its_finding_on_the_record_before_it() -> None:
    """What is told was recorded earlier in the entries."""
    flight = Flight(Rules([BEACON_ON, PUMP_ON, PROBE_ON]))
    flight.at(0)
    flight.at(1, speed=3.0)
    seen: set[int] = set()
    for entry in flight.entries:
        if isinstance(entry, FindingOpened):
            seen.add(entry.finding.number)
        if isinstance(entry, Notice):
            assert entry.finding in seen
    assert seen == {1, 2, 3}


def test_the_sentence_of_a_repeat_says_what_is_so_now() -> None:
    """A repeat is worded from the present values, while the finding keeps its evidence."""
    either = replace(item("speed", above(HEADING, 10)), finding=FindingKind.OMITTED)
    flight = Flight(Rules([either]))
    flight.at(0)
    flight.at(1, ["ready"])
    flight.at(10, heading=5.0)
    flight.until(11, 32)
    first, again = told(flight.entries)
    assert "5" in again
    assert first != again
    assert flight.core.findings[0].sentence in first
