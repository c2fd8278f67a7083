"""Tests of bridge.cli: every command, option and gate is documented; wrong use ends with 2."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer

from bridge.cli import app
from tests.bridge.conftest import Command
from tests.documents.generated import commands
from tests.shipped import shipped_pack

TOP = Path(__file__).parents[2]
GUIDE = (TOP / "bridge" / "README.md").read_text(encoding="utf-8")
PACKS_GUIDE = (TOP / "rules" / "packs" / "README.md").read_text(encoding="utf-8")
COMMANDS = typer.main.get_group(app).commands


def section(name: str) -> str:
    """Return the section of the guide on the options of one command."""
    return GUIDE.partition(f"### `holdshort {name}`\n")[2].partition("\n### ")[0]


@pytest.mark.parametrize("name", commands())
def test_each_command_and_option_is_documented(name: str) -> None:
    """The guide has a section for each command, with each of its options."""
    options = {word for param in commands()[name].params for word in param.opts if word.startswith("--")} - {
        "--help"
    }
    assert f"`holdshort {name}`" in GUIDE
    assert {option for option in options if f"`{option}" not in section(name)} == set()


def test_the_guide_has_no_unknown_command() -> None:
    """Each section on a command is about a command that exists."""
    documented = {line.split("`")[1] for line in GUIDE.splitlines() if line.startswith("### `holdshort ")}
    assert documented == {f"holdshort {name}" for name in commands()}


def test_each_gate_is_documented() -> None:
    """The guide of packs names each gate of the shipped pack that `judge --gate` accepts."""
    gates = [gate.id for gate in shipped_pack("twin_jet").gates]
    assert [gate for gate in gates if f"`{gate}`" not in PACKS_GUIDE] == []


@pytest.mark.parametrize("name", COMMANDS)
def test_help_names_every_option(command: Command, name: str) -> None:
    """`--help` ends with 0 and names every option, with a sentence on each."""
    result = command(name, "--help")
    assert result.code == 0
    assert all(param.opts[0] in result.out or param.opts[0] == "state" for param in COMMANDS[name].params)
    assert all(getattr(param, "help", None) for param in COMMANDS[name].params)


def test_the_program_help_has_the_caution(command: Command) -> None:
    """The program's own help has the short caution and fits 80 columns."""
    result = command("--help")
    assert "For flight simulation only." in result.out
    assert max(map(len, result.out.splitlines())) <= 80


@pytest.mark.parametrize(
    "words",
    [
        ("nosuch",),
        ("demo", "--speed", "500"),
        ("watch",),
        ("judge", "a.json"),
        ("mock",),
        ("call",),
        ("call", "x", "--control-port", "70000"),
        ("waive", "x"),
        ("check",),
        ("check", "twin_jte"),
        ("check", "twin_jet", "--trip", "/none.yaml"),
        ("mock", "--to", "udp://127.0.0.1"),
        ("mock", "--to", "udp://127.0.0.1:0"),
        ("mock", "--to", "udp://127.0.0.1:9", "--format", "msgpak"),
        ("mock", "--to", "udp://127.0.0.1:9", "--slip", "nosuch"),
        ("mock", "--to", "udp://127.0.0.1:9", "--scenario", "nosuch"),
        ("mock", "--to", "udp://127.0.0.1:9", "--network-faults", "loss=2"),
        ("demo", "--real", "--slip", "nosuch", "--headless"),
    ],
)
def test_wrong_use_ends_with_2_and_a_message(command: Command, words: tuple[str, ...]) -> None:
    """A wrong command line gives a message on standard error and exit code 2, without traceback."""
    result = command(*words)
    assert result.code == 2
    assert result.out == ""
    assert result.err.strip()
    assert "Traceback" not in result.err
