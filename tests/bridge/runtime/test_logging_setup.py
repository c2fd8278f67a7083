"""Tests of bridge.runtime.logging_setup: where events go, and how."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
import structlog

from bridge.runtime.logging_setup import logging_to
from rules.faults import InputFaults


@pytest.fixture(autouse=True)
def _as_before() -> Iterator[None]:
    """Leave no configuration behind."""
    yield
    structlog.reset_defaults()


def test_a_file_gets_every_event_as_a_json_line(tmp_path: Path) -> None:
    """Events are appended as one JSON object a line, at once, quiet or not."""
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


def test_quiet_keeps_to_errors_on_standard_error(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a file a quiet log says only errors, on standard error, without colour where it is not a terminal."""
    with logging_to(None, quiet=True):
        structlog.get_logger().warning("link failed")
        structlog.get_logger().error("listener failed", listener="Lines")
    said = capsys.readouterr()
    assert said.out == ""
    assert "link failed" not in said.err
    assert "listener failed" in said.err
    assert "\x1b" not in said.err


def test_without_quiet_all_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a file and not quiet, information is logged too."""
    with logging_to(None):
        structlog.get_logger().info("link open")
    assert "link open" in capsys.readouterr().err


def test_a_file_that_cannot_be_written_is_a_clear_fault(tmp_path: Path) -> None:
    """A folder that is not there, or a folder instead of a file, is said with its path."""
    for path in (tmp_path / "none" / "log.jsonl", tmp_path):
        with pytest.raises(InputFaults, match=f"{path}: the log cannot be written"), logging_to(path):
            pytest.fail("the log was opened")
