"""Tests of the panel: it accepts every possible setting, and refuses others with a clear message."""

from __future__ import annotations

import pytest

from mock_sim import twin_jet as package
from mock_sim.common.panel import ControlError, Panel, Part
from mock_sim.twin_jet import Halyard220
from rules.signals.model import Value


def test_a_control_reads_where_it_was_put(dark: Halyard220) -> None:
    """A control that nothing drives reads its new position at once, in `get` and in `state`."""
    dark.set("gear.autobrake", "reject")
    assert dark.get("gear.autobrake") == "reject"
    assert dark.state()["gear.autobrake"] == "reject"


@pytest.mark.parametrize(
    ("name", "value", "sentence"),
    [
        ("fuel.pump.left_aft.swich", "on", "did you mean fuel.pump.left_aft.switch?"),
        ("fuel.pump.left_aft.switch", "onn", "is one of off, on, not 'onn' (did you mean on?)"),
        ("engine.1.start_switch", "strat", "did you mean start?"),
        ("engine.1.n2", 60.0, "engine.1.n2 is not a control: the aeroplane moves it by itself"),
        ("gear.tiller", 200.0, "gear.tiller goes from -80 to 80 deg, not to 200"),
        ("gear.tiller", "left", "gear.tiller takes a number, not 'left'"),
        ("gear.tiller", float("nan"), "gear.tiller takes a number, not nan"),
        ("controls.flap.lever", 7.0, "controls.flap.lever rests at 0, 4, 8, 12, 20, 28, 36, not at 7"),
        ("transponder.code", 4298.0, "digits 0 to 7"),
        ("transponder.code", 42.5, "whole number"),
        ("management.runway", "14LEFT", "management.runway holds 4 characters, not 6"),
        ("gear.parking_brake", 1.0, "gear.parking_brake is one of released, set, not '1'"),
    ],
)
def test_a_wrong_setting_is_refused_in_words(
    dark: Halyard220, name: str, value: Value, sentence: str
) -> None:
    """An unknown control, word or number is refused with what was expected and the nearest known, and changes nothing."""
    before = dark.state()
    with pytest.raises(ControlError) as caught:
        dark.set(name, value)
    assert sentence in str(caught.value)
    assert dark.state() == before


def test_an_unknown_control_cannot_be_read(dark: Halyard220) -> None:
    """Reading an unknown name is refused with the nearest control."""
    with pytest.raises(ControlError, match=r"did you mean gear\.chocks"):
        dark.get("gear.chock")


def test_a_control_outside_the_book_can_be_read(dark: Halyard220) -> None:
    """A control that no signal shows reads its own position."""
    dark.set("tug.speed", -3.0)
    assert dark.get("tug.speed") == -3.0
    assert "tug.speed" not in dark.state()


def _spread(name: str) -> list[str]:
    """Return all names that a name with words in braces means."""
    if "{" not in name:
        return [name]
    head, rest = name.split("{", 1)
    words, tail = rest.split("}", 1)
    return [full for word in words.split(",") for full in _spread(head + word + tail)]


def test_the_page_of_controls_is_complete(dark: Halyard220) -> None:
    """The package's docstring lists every control, each once, and no other."""
    page = (package.__doc__ or "").split("words or range:\n", 1)[1]
    listed = [
        name for line in page.splitlines() if ": " in line for name in _spread(line.strip().split(": ")[0])
    ]
    assert sorted(listed) == sorted(dark.control_signals)


def test_the_page_gives_the_words_of_each_control(dark: Halyard220) -> None:
    """The docstring's words and ranges are those of the aeroplane."""
    page = (package.__doc__ or "").split("words or range:\n", 1)[1]
    for line in page.splitlines():
        if ": " not in line:
            continue
        names, positions = line.strip().split(": ", 1)
        for name in _spread(names):
            control = dark.control_signals[name]
            if control.words:
                assert positions == ", ".join(control.words), name
            elif control.is_numeric and name != "controls.flap.lever":
                assert positions.startswith(f"{control.low:g} to {control.high:g}"), name


def test_a_signal_without_a_system_is_named(dark: Halyard220) -> None:
    """An aeroplane whose systems do not drive every signal is refused, with the signals and what to do."""
    signals = {"gear.autobrake": dark.control_signals["gear.autobrake"]}
    with pytest.raises(AssertionError, match=r"no system drives gear\.autobrake: add it to `drives`"):
        Panel(signals, [])
    with pytest.raises(AssertionError, match=r"no signal book has gear\.brake: add it to a book"):
        Panel({}, [Part(drives={"gear.brake": 1.0})])
