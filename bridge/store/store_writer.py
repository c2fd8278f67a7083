"""Writes spools into the store, and repeats attempts while the database refuses them.

One task and one transaction at a time: up to `BATCH_RECORDS` records of one spool.  While the database is down or
locked, records wait in their spools and the pauses between attempts grow.  A record that the database rejects for its
content is moved to a file beside the spool, so that it does not block the others.

Takes: a folder of spools, the address of a store.  Gives: rows; spools that are completely stored are removed.
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

from adapters.back_off import BackOff
from bridge.store.database import StoreError, database_message, open_store, write_transaction
from bridge.store.row_writer import apply_records, mark_broken_off
from bridge.store.spool import SpoolReader, encode_line, remove_stale_locks, spool_paths
from bridge.store.spool_records import SpoolRecord
from rules.faults import InputFaults
from rules.words import count_in_digits

POLL_S = 0.5
MAX_WAIT_S = 60.0
BATCH_RECORDS = 200
"""Records in one transaction."""
REFUSED_SUFFIX = ".refused"
"""The suffix of files with records that the database rejected, beside the spools."""


class StoreWriter:
    """The only writer of a store in this process.

    Attributes:
        problem: The reason why nothing can be stored now; '' if there is none.
        refused_count: The number of records that the database rejected for their content.
        lost: The records that the disk refused to the end, as JSON: they are in no spool.
    """

    def __init__(
        self,
        folder: Path,
        url: str,
        *,
        opener: Callable[[str], Engine] = open_store,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Prepare the writer; the store is opened when the first record is written.

        Args:
            folder: The folder of spools.
            url: The address of the store.
            opener: Opens the store.
            clock: The monotonic clock, in seconds.
        """
        self.problem = ""
        self.refused_count = 0
        self.lost: list[bytes] = []
        self._folder, self._url, self._opener, self._clock = folder, url, opener, clock
        self._engine: Engine | None = None
        self._files: dict[Path, SpoolReader] = {}
        self._back_off, self._due_s = BackOff(max_s=MAX_WAIT_S), 0.0
        self._lock = threading.Lock()
        self._log = structlog.get_logger("store")

    @property
    def status_text(self) -> str:
        """A sentence on the state of the store."""
        rejected = (
            f"; {self.refused_count} records were rejected (see *.refused)" if self.refused_count else ""
        )
        if self.lost:
            count = count_in_digits(len(self.lost), "record")
            rejected += f"; {count} could not be written to the disk and follow on standard error"
        if not self.problem:
            return f"up to date{rejected}"
        retry_s = max(0.0, self._due_s - self._clock())
        return f"cannot be reached ({self.problem}); findings wait on disk; next attempt in {retry_s:.0f} s{rejected}"

    async def run(self, wait: Callable[[float], Awaitable[None]] = asyncio.sleep) -> None:
        """Write spools until cancelled; the database is used in a thread."""
        while True:
            await asyncio.to_thread(self.poll)
            await wait(POLL_S)

    def poll(self) -> None:
        """Write spools, unless the next attempt is not due yet; never raises."""
        with self._lock:
            if self._clock() >= self._due_s:
                self._attempt()

    def finish(self) -> None:
        """Write spools for the last time; never raises."""
        with self._lock:
            self._attempt()
            self._dispose()

    def _attempt(self) -> None:
        try:
            self.drain()
        except (DBAPIError, StoreError) as error:
            self._postpone(database_message(error) if isinstance(error, DBAPIError) else str(error))
        except (OSError, InputFaults) as error:
            self._postpone(str(error))
        except Exception as error:  # noqa: BLE001 - no error of the store may end the watch; the spools stay
            self._postpone(f"an error in this program: {error!r}")
        else:
            self.problem = ""
            self._back_off.reset()

    def drain(self) -> None:
        """Write all spools into the store.

        Raises:
            DBAPIError: The database refuses them now.
            StoreError: The database cannot be reached.
            OSError: A spool cannot be read.
            InputFaults: The database is not a store that this version knows.
        """
        paths = spool_paths(self._folder)
        self._files = {path: self._files.get(path) or SpoolReader(path) for path in paths}
        for file in self._files.values():
            locked = file.try_lock()
            try:
                self._drain_file(file)
                if locked:
                    self._finish_file(file)
            finally:
                if locked:
                    file.release()
        remove_stale_locks(self._folder)

    def _dispose(self) -> None:
        """Close the connections to the database."""
        if self._engine is not None:
            self._engine.dispose()
            self._engine = None

    def _drain_file(self, file: SpoolReader) -> None:
        """Write one spool in batches."""
        while records := file.next_records(BATCH_RECORDS):
            self._write_batch(file, [record for record, _ in records])
            file.mark_applied(records[-1][1])

    def _write_batch(self, file: SpoolReader, records: Sequence[SpoolRecord]) -> None:
        """Write one batch; if the database rejects it, write each record alone and set rejected ones aside."""
        try:
            with write_transaction(self._engine_for_writing()) as connection:
                apply_records(connection, file.session, records)
        except (DataError, IntegrityError, CompileError) as error:
            if len(records) > 1:
                for record in records:
                    self._write_batch(file, [record])
                return
            self._set_aside(
                file, records[0], database_message(error) if isinstance(error, DBAPIError) else str(error)
            )

    def _set_aside(self, file: SpoolReader, record: SpoolRecord, reason: str) -> None:
        with file.path.with_suffix(REFUSED_SUFFIX).open("ab") as rejected:
            rejected.write(encode_line(record))
        self.refused_count += 1
        self._log.error("record rejected", session=file.session, record=record.number, why=reason)

    def _finish_file(self, file: SpoolReader) -> None:
        """Remove a spool without a writer, all of whose records are stored."""
        with write_transaction(self._engine_for_writing()) as connection:
            mark_broken_off(connection, file.session, file.last_number)
        file.remove()

    def _engine_for_writing(self) -> Engine:
        if self._engine is None:
            self._engine = self._opener(self._url)
        return self._engine

    def _postpone(self, reason: str) -> None:
        """Wait longer after each failure; log each new reason once."""
        wait_s = self._back_off.next_s()
        self._due_s = self._clock() + wait_s
        if reason != self.problem:
            self._log.warning("store not reached", why=reason, retry_in_s=wait_s)
        self.problem = reason
