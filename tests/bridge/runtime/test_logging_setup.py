"""Tests of bridge.runtime.logging_setup: destination, form and level of log events."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
import structlog

from bridge.runtime.logging_setup import logging_to
from rules.faults import InputFaults


@pytest.fixture(autouse=True)
def _reset_configuration() -> Iterator[None]:
    """Reset the logging configuration after each test."""
    yield
    structlog.reset_defaults()


def test_a_file_gets_every_event_as_a_json_line(tmp_path: Path) -> None:
    """Each event is appended at once as one line of JSON, quiet or not."""
    path = tmp_path / "log.jsonl"
    path.write_text('{"event": "before"}\n', encoding="utf-8")
    with logging_to(path, quiet=True):
        structlog.get_logger("link").info("link open", link="udp 127.0.0.1:5139")
        structlog.get_logger("link").warning("link failed", why="Zündung")
        before, opened, failed = map(json.loads, path.read_text(encoding="utf-8").splitlines())
    assert before == {"event": "before"}
    assert (opened["event"], opened["level"], opened["link"]) == ("link open", "info", "udp 127.0.0.1:5139")
    assert opened["timestamp"].endswith("Z")
    assert failed["why"] == "Zündung"


def test_quiet_logs_only_errors_to_standard_error(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a file a quiet log prints only errors, to standard error, without colour where it is no terminal."""
    with logging_to(None, quiet=True):
        structlog.get_logger().warning("link failed")
        structlog.get_logger().error("listener failed", listener="Lines")
    output = capsys.readouterr()
    assert output.out == ""
    assert "link failed" not in output.err
    assert "listener failed" in output.err
    assert "\x1b" not in output.err


def test_without_quiet_information_is_logged(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a file and not quiet, information is logged too."""
    with logging_to(None):
        structlog.get_logger().info("link open")
    assert "link open" in capsys.readouterr().err


def test_a_file_that_cannot_be_written_is_a_clear_fault(tmp_path: Path) -> None:
    """A missing folder, and a folder in the file's place, are reported with their path."""
    for path in (tmp_path / "none" / "log.jsonl", tmp_path):
        with pytest.raises(InputFaults, match=f"{path}: the log cannot be written"), logging_to(path):
            pytest.fail("the log was opened")
