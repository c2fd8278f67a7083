"""Tests of the command for a separate process, and of the lines that it prints."""

from __future__ import annotations

import pytest

from mock_sim.jsbsim.installation import INSTALL_HINT
from mock_sim.jsbsim.process.__main__ import main
from mock_sim.jsbsim.process.command import PACKS, ScheduleEvent, flight_command, parse_event
from mock_sim.jsbsim.process.slips import SLIPS
from rules.faults import InputFaults


@pytest.mark.parametrize(
    "event", [ScheduleEvent(5.0, "left engine: starter"), ScheduleEvent(129.258, "trim nose down", "trim")]
)
def test_line_is_read_back(event: ScheduleEvent) -> None:
    """A printed event read again is the event, its time to a hundredth."""
    read = parse_event(str(event) + "\n")
    assert read == ScheduleEvent(round(event.sim_s, 2), event.text, event.slip)


@pytest.mark.parametrize("line", ["", "\n", "JSBSim: Socket error in Send", '{"slips": []}'])
def test_other_lines_are_no_events(line: str) -> None:
    """A line that is not an event gives None."""
    assert parse_event(line) is None


def test_command_names_each_slip() -> None:
    """The command has the port, the pace and every slip, written out."""
    words = flight_command("jet", 5139, 40.0, ["demo"], ["--json"])
    assert words[1:4] == ["-m", "mock_sim.jsbsim.process", "jet"]
    assert words[words.index("--port") + 1] == "5139"
    assert words[words.index("--speed") + 1] == "40"
    assert words.count("--slip") == 6
    assert words[-1] == "--json"


def test_command_refuses_an_unknown_slip() -> None:
    """A slip of the other aeroplane is refused before a process is started."""
    with pytest.raises(InputFaults, match="unknown slip mixture"):
        flight_command("jet", 5139, slips=["mixture"])


def test_both_aeroplanes_have_pack_sheet_and_map() -> None:
    """Each stock aeroplane has a pack, a trip sheet and a map."""
    assert set(PACKS) == set(SLIPS)


def test_absent_library_says_how_to_install(capsys: pytest.CaptureFixture[str]) -> None:
    """Without the library: exit code 2 and the exact line."""
    assert main(["jet", "--port", "5139"], installed=False) == 2
    output = capsys.readouterr()
    assert INSTALL_HINT in output.err
    assert output.out == ""


def test_unknown_slip_exits_with_2(capsys: pytest.CaptureFixture[str]) -> None:
    """An unknown slip is reported, and nothing is flown."""
    assert main(["piston", "--port", "5139", "--slip", "flaps"], installed=True) == 2
    assert "did you mean flaps_30?" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["jet", "--port", "0"], "expected 1 to 65535"),
        (["jet", "--port", "5139", "--speed", "0"], "expected more than 0"),
        (["jet", "--port", "5139", "--seconds", "nan"], "expected more than 0"),
        (["glider", "--port", "5139"], "invalid choice"),
        (["jet"], "--port"),
    ],
)
def test_wrong_words_exit_with_2(words: list[str], message: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Impossible numbers are refused with the expected range."""
    with pytest.raises(SystemExit) as ended:
        main(words, installed=True)
    assert ended.value.code == 2
    assert message in capsys.readouterr().err
