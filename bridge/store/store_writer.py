"""Puts spools into the store, and tries again for as long as the database does not take them.

One task, one transaction at a time: a piece of one spool.  Where the database is down or locked, lines wait in their spools;
the wait between two tries grows.  A line that the database refuses for what it says is put aside with the reason, so that it
does not stand in the way of the others.

Takes: a folder of spools, the address of a store.  Gives: rows; spools that are in the store whole are removed.
"""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Awaitable, Callable, Sequence
from pathlib import Path

import structlog
from sqlalchemy import Engine
from sqlalchemy.exc import CompileError, DataError, DBAPIError, IntegrityError

from bridge.store.database import StoreError, database_message, open_store, write_transaction
from bridge.store.row_writer import apply_records, mark_broken_off
from bridge.store.spool import SpoolReader, encode_line, remove_stale_locks, spool_paths
from bridge.store.spool_records import SpoolRecord
from rules.faults import InputFaults

POLL_S = 0.5
FIRST_WAIT_S = 1.0
MAX_WAIT_S = 60.0
BATCH_RECORDS = 200
"""Lines in one transaction."""
REFUSED_SUFFIX = ".refused"
"""Beside the spools: lines that the database refused."""


class StoreWriter:
    """The one writer of a store in this program.

    Attributes:
        trouble: why nothing goes into the store now; '' while all is well.
        refused: how many lines the database did not take for what they say.
    """

    def __init__(
        self,
        folder: Path,
        url: str,
        *,
        opener: Callable[[str], Engine] = open_store,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Nothing is opened yet.

        Args:
            folder: the spools'.
            url: the store's.
            opener: opens the store.
            clock: the monotonic clock, in seconds.
        """
        self.trouble = ""
        self.refused_count = 0
        self._folder, self._url, self._opener, self._clock = folder, url, opener, clock
        self._engine: Engine | None = None
        self._files: dict[Path, SpoolReader] = {}
        self._wait_s, self._due_s = 0.0, 0.0
        self._lock = threading.Lock()
        self._log = structlog.get_logger("store")

    @property
    def status_text(self) -> str:
        """One sentence on how the store stands."""
        aside = f"; {self.refused_count} lines were refused and put aside" if self.refused_count else ""
        if not self.trouble:
            return f"all is in the store{aside}"
        again_s = max(0.0, self._due_s - self._clock())
        return f"the store cannot be reached ({self.trouble}); what was found waits on the disk; trying again in {again_s:.0f} s{aside}"

    async def run(self, wait: Callable[[float], Awaitable[None]] = asyncio.sleep) -> None:
        """Drain for ever; the database is waited for in a thread."""
        while True:
            await asyncio.to_thread(self.poll)
            await wait(POLL_S)

    def poll(self) -> None:
        """Drain what there is, unless it is too early for another try; never raises."""
        with self._lock:
            if self._clock() >= self._due_s:
                self._attempt()

    def finish(self) -> None:
        """Drain what there is now, for the last time; never raises."""
        with self._lock:
            self._attempt()
            self._dispose()

    def _attempt(self) -> None:
        try:
            self.drain()
        except (DBAPIError, StoreError) as error:
            self._back_off(database_message(error) if isinstance(error, DBAPIError) else str(error))
        except (OSError, InputFaults) as error:
            self._back_off(str(error))
        except Exception as error:  # noqa: BLE001 - whatever it is, watching goes on and the spools stay
            self._back_off(f"a fault of the program: {error!r}")
        else:
            self.trouble, self._wait_s = "", 0.0

    def drain(self) -> None:
        """Put all that there is into the store.

        Raises:
            DBAPIError: the database does not take it now.
            StoreError: it cannot be reached.
            OSError: a spool cannot be read.
            InputFaults: it is no store that we know.
        """
        paths = spool_paths(self._folder)
        self._files = {path: self._files.get(path) or SpoolReader(path) for path in paths}
        for file in self._files.values():
            ours = file.try_lock()
            try:
                self._drain_file(file)
                if ours:
                    self._finish_file(file)
            finally:
                if ours:
                    file.release()
        remove_stale_locks(self._folder)

    def _dispose(self) -> None:
        """Let go of the database."""
        if self._engine is not None:
            self._engine.dispose()
            self._engine = None

    def _drain_file(self, file: SpoolReader) -> None:
        """One spool, piece by piece."""
        while lines := file.next_records(BATCH_RECORDS):
            self._write_batch(file, [line for line, _ in lines])
            file.mark_applied(lines[-1][1])

    def _write_batch(self, file: SpoolReader, records: Sequence[SpoolRecord]) -> None:
        """One piece; where the database refuses it, line by line, and what it refuses then is put aside."""
        try:
            with write_transaction(self._engine_for_writing()) as connection:
                apply_records(connection, file.session, records)
        except (DataError, IntegrityError, CompileError) as error:
            if len(records) > 1:
                for line in records:
                    self._write_batch(file, [line])
                return
            self._set_aside(
                file, records[0], database_message(error) if isinstance(error, DBAPIError) else str(error)
            )

    def _set_aside(self, file: SpoolReader, record: SpoolRecord, reason: str) -> None:
        with file.path.with_suffix(REFUSED_SUFFIX).open("ab") as aside:
            aside.write(encode_line(record))
        self.refused_count += 1
        self._log.error("line refused", session=file.session, line=record.number, why=reason)

    def _finish_file(self, file: SpoolReader) -> None:
        """Nobody writes it any more, and all of it is in the store."""
        with write_transaction(self._engine_for_writing()) as connection:
            mark_broken_off(connection, file.session)
        file.remove()

    def _engine_for_writing(self) -> Engine:
        if self._engine is None:
            self._engine = self._opener(self._url)
        return self._engine

    def _back_off(self, reason: str) -> None:
        """Wait for longer each time; say it once for each new reason."""
        self._wait_s = min(max(2 * self._wait_s, FIRST_WAIT_S), MAX_WAIT_S)
        self._due_s = self._clock() + self._wait_s
        if reason != self.trouble:
            self._log.warning("store not reached", why=reason, again_in_s=self._wait_s)
        self.trouble = reason
