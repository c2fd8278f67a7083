"""The data folder: recordings, spool and store.

    DATA_DIR/recordings/    one recording for each session
    DATA_DIR/spool/         events that are not in the store yet
    DATA_DIR/store.sqlite   the store, unless another database is named

Takes: an option, or the environment variable HOLDSHORT_DATA_DIR.  Gives: `DataDir`, or None to store nothing.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_data_path

from rules.faults import Fault, InputFaults, Place

ENVIRONMENT_VARIABLE = "HOLDSHORT_DATA_DIR"
OFF = "off"


@dataclass(frozen=True, slots=True)
class DataDir:
    """One folder; only its owner can look into it."""

    folder: Path

    @property
    def recordings(self) -> Path:
        """Folder of the recordings."""
        return self.folder / "recordings"

    @property
    def spool(self) -> Path:
        """Folder of the events that are not in the store yet."""
        return self.folder / "spool"

    @property
    def store(self) -> Path:
        """File of the store."""
        return self.folder / "store.sqlite"

    def create(self) -> None:
        """Make the missing folders.

        Raises:
            InputFaults: a folder cannot be made.
        """
        for folder in (self.folder, self.recordings, self.spool):
            try:
                folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            except OSError as error:
                what = f"this folder cannot be made ({error.strerror or error})"
                hint = f"name another with --data-dir, or store nothing with --data-dir {OFF}"
                raise InputFaults([Fault(Place(str(folder)), what, "a folder", hint)]) from None


def resolve_data_dir(option: str, *, default: str | None = None) -> DataDir | None:
    """Choose and make the data folder.

    Args:
        option: a folder, `off`, or '' to use the environment variable.
        default: used if the variable is not set either; None for the user's data folder.

    Returns:
        The folder; None to store nothing.

    Raises:
        InputFaults: the folder cannot be made.
    """
    chosen = option or os.environ.get(ENVIRONMENT_VARIABLE, "") or (default if default is not None else "")
    if chosen == OFF:
        return None
    data_dir = DataDir(Path(chosen).expanduser() if chosen else user_data_path("holdshort", appauthor=False))
    data_dir.create()
    return data_dir
