"""Tests of bridge.runtime.event_loop: the first own error of an exception group is raised."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable

import pytest
import structlog
from structlog.testing import capture_logs

from bridge.runtime.event_loop import run_async
from rules.faults import Fault, InputFaults, LinkError, Place


async def together(*works: Awaitable[object]) -> None:
    """Run all of them in one task group."""

    async def run_one(work: Awaitable[object]) -> None:
        await work

    async with asyncio.TaskGroup() as tasks:
        for work in works:
            tasks.create_task(run_one(work))


async def failing(error: Exception) -> None:
    """Raise this error."""
    raise error


def test_a_result_comes_back_from_a_selector_loop() -> None:
    """The coroutine's result is returned, and the loop can watch sockets."""

    async def kind() -> str:
        return type(asyncio.get_running_loop()).__name__

    assert "Selector" in run_async(kind())


def test_our_error_is_raised_from_nested_groups() -> None:
    """An error of ours in a group within a group is raised itself, with its message."""
    with pytest.raises(LinkError, match="port taken"):
        run_async(together(together(failing(LinkError("port taken")))))


def test_the_first_of_several_own_errors_is_raised() -> None:
    """The first of several own errors is raised."""
    faults = InputFaults([Fault(Place("a.yaml", 3, 1), "wrong")])
    with pytest.raises(InputFaults, match=r"a\.yaml:3:1: wrong"):
        run_async(together(failing(faults), failing(LinkError("port taken"))))


def test_other_errors_are_not_hidden() -> None:
    """An error that is not ours stays in its group, also beside one of ours."""
    with pytest.raises(ExceptionGroup):
        run_async(together(failing(ValueError("a bug")), failing(LinkError("port taken"))))


def test_an_error_of_the_loop_is_logged_once() -> None:
    """An accept that finds no free file fails each second: it is one line in the log, not a traceback each time."""

    async def fail_often() -> None:
        loop = asyncio.get_running_loop()
        for error in [OSError(24, "Too many open files")] * 5 + [ValueError("another")]:
            loop.call_exception_handler({"message": "socket.accept() failed", "exception": error})

    structlog.reset_defaults()
    with capture_logs() as logs:
        run_async(fail_often())
    assert [entry["why"] for entry in logs] == [
        "OSError(24, 'Too many open files')",
        "ValueError('another')",
    ]
