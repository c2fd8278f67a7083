"""Runs a real PostgreSQL server in a temporary folder, which tests may stop and kill.

Takes: installed PostgreSQL programs.  Gives: `Server`.
"""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import tempfile
from contextlib import suppress
from pathlib import Path

import psycopg
from tenacity import retry, retry_if_exception_type, stop_after_delay, wait_fixed

OWNER = "postgres"
"""Account that runs the server for root; PostgreSQL refuses to run as root."""
WITHIN_S = 60.0


def programs() -> Path | None:
    """Find the folder of PostgreSQL's programs, of the newest version where there are several."""
    found = shutil.which("initdb")
    if found is not None:
        return Path(found).resolve().parent
    folders = Path("/usr/lib/postgresql").glob("*/bin/postgres")
    newest = max(folders, key=lambda path: int(path.parts[-3]), default=None)
    return newest.parent if newest is not None else None


class Server:
    """One server, on loopback, at a port of its own.

    Attributes:
        home: the folder of its files.
        process: the running server; None while it is stopped.
    """

    def __init__(self, bin_folder: Path, *, durable: bool = False) -> None:
        """Create its files without starting it.

        Args:
            bin_folder: the folder of PostgreSQL's programs.
            durable: true where it waits for the disk, as in production.
        """
        self._bin = bin_folder
        self._durable = durable
        self._user = OWNER if os.geteuid() == 0 else None
        self.home = Path(tempfile.mkdtemp(prefix="holdshort-pg-"))
        if self._user is not None:
            shutil.chown(self.home, self._user, self._user)
        self.port = _free_port()
        self.process: subprocess.Popen[bytes] | None = None
        self._run("initdb", "-D", "data", "-U", "holdshort", "-A", "trust", "-E", "UTF8", "--no-locale", "-N")

    def url(self, database: str = "postgres") -> str:
        """Give the address of a database on it."""
        return f"postgresql://holdshort@127.0.0.1:{self.port}/{database}"

    def start(self) -> None:
        """Start it and wait until it answers."""
        self._launch()
        self.wait()

    def _launch(self) -> None:
        settings = {
            "listen_addresses": "127.0.0.1",
            "port": str(self.port),
            "unix_socket_directories": str(self.home),
            "fsync": "on" if self._durable else "off",
            "shared_buffers": "16MB",
            "max_connections": "30",
        }
        options = [part for key, value in settings.items() for part in ("-c", f"{key}={value}")]
        with (self.home / "log").open("ab") as log:
            self.process = subprocess.Popen(
                [str(self._bin / "postgres"), "-D", "data", *options],
                cwd=self.home,
                stdout=log,
                stderr=log,
                user=self._user,
                start_new_session=True,
            )

    @retry(
        retry=retry_if_exception_type(psycopg.OperationalError),
        stop=stop_after_delay(WITHIN_S),
        wait=wait_fixed(0.05),
        reraise=True,
    )
    def wait(self) -> None:
        """Wait until it answers; after a kill it recovers its files first."""
        # After a kill its port or its shared memory may still be in use for a moment; then it ends at once.
        if self.process is not None and self.process.poll() is not None:
            self._launch()
        with psycopg.connect(self.url(), connect_timeout=5):
            pass

    def kill(self) -> None:
        """Kill it and all its processes at once, as a loss of power would."""
        if self.process is not None:
            with suppress(ProcessLookupError):
                os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
            self.process = None
            # A new server refuses to start while the lock file of the old one exists.
            (self.home / "data" / "postmaster.pid").unlink(missing_ok=True)

    def stop(self) -> None:
        """Stop it with an orderly shutdown."""
        if self.process is not None:
            self.process.send_signal(signal.SIGINT)
            self.process.wait(WITHIN_S)
            self.process = None

    def remove(self) -> None:
        """Stop it, and remove its files."""
        self.kill()
        shutil.rmtree(self.home, ignore_errors=True)

    def sql(self, statement: str, database: str = "postgres") -> None:
        """Run one statement outside a transaction."""
        with psycopg.connect(self.url(database), autocommit=True) as connection:
            connection.execute(statement)

    def _run(self, program: str, *words: str) -> None:
        subprocess.run(
            [str(self._bin / program), *words],
            cwd=self.home,
            user=self._user,
            check=True,
            capture_output=True,
            env={"PATH": os.environ["PATH"], "LC_ALL": "C", "HOME": str(self.home)},
        )


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
