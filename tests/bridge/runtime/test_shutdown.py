"""Tests of bridge.runtime.shutdown: signals set an event, work ends with it."""

from __future__ import annotations

import asyncio
import os
import signal

import pytest

from bridge.runtime.shutdown import STOP_SIGNALS, run_unless_stopped, stop_on_signal


@pytest.mark.parametrize("number", STOP_SIGNALS)
async def test_a_signal_sets_the_event_and_ends_nothing(number: signal.Signals) -> None:
    """Each signal to stop only sets the event; afterwards the handlers are as before."""
    before = signal.getsignal(number)
    with stop_on_signal() as asked:
        os.kill(os.getpid(), number)
        await asyncio.wait_for(asked.wait(), 10)
    assert signal.getsignal(number) in (before, signal.SIG_DFL, signal.default_int_handler)


async def test_work_that_is_done_gives_its_result() -> None:
    """Without a stop the result is the work's."""

    async def work() -> int:
        return 3

    assert await run_unless_stopped(asyncio.Event(), work()) == 3


async def test_work_is_cancelled_when_a_stop_is_asked() -> None:
    """With the event set the work is cancelled, cleans up, and nothing is given."""
    asked, cleaned = asyncio.Event(), asyncio.Event()

    async def work() -> int:
        try:
            asked.set()
            await asyncio.Event().wait()
        finally:
            cleaned.set()
        return 3

    assert await run_unless_stopped(asked, work()) is None
    assert cleaned.is_set()


async def test_an_error_of_the_work_comes_out() -> None:
    """What the work raises is raised."""

    async def work() -> None:
        raise ValueError("broken")

    with pytest.raises(ValueError, match="broken"):
        await run_unless_stopped(asyncio.Event(), work())
