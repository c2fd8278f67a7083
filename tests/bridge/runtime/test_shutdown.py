"""Tests of bridge.runtime.shutdown: a signal sets an event, which ends the work."""

from __future__ import annotations

import asyncio
import os
import signal

import pytest

from bridge.runtime.shutdown import STOP_SIGNALS, run_unless_stopped, stop_on_signal


@pytest.mark.parametrize("number", STOP_SIGNALS)
async def test_a_signal_sets_the_event_and_ends_nothing(number: signal.Signals) -> None:
    """Each stop signal only sets the event; afterwards the earlier handlers are back."""
    before = signal.getsignal(number)
    with stop_on_signal() as stop:
        os.kill(os.getpid(), number)
        await asyncio.wait_for(stop.wait(), 10)
    assert signal.getsignal(number) in (before, signal.SIG_DFL, signal.default_int_handler)


async def test_completed_work_gives_its_result() -> None:
    """Without a stop the result is the work's."""

    async def work() -> int:
        return 3

    assert await run_unless_stopped(asyncio.Event(), work()) == 3


async def test_a_stop_cancels_the_work() -> None:
    """With the event set the work is cancelled and cleans up, and the result is None."""
    stop, cleaned = asyncio.Event(), asyncio.Event()

    async def work() -> int:
        try:
            stop.set()
            await asyncio.Event().wait()
        finally:
            cleaned.set()
        return 3

    assert await run_unless_stopped(stop, work()) is None
    assert cleaned.is_set()


async def test_an_error_of_the_work_is_raised() -> None:
    """An exception of the work is raised."""

    async def work() -> None:
        raise ValueError("broken")

    with pytest.raises(ValueError, match="broken"):
        await run_unless_stopped(asyncio.Event(), work())
