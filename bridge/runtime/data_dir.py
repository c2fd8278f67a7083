"""Where what was seen is kept: one folder with the recordings, the spool and the store.

    KEEP/recordings/    one recording for each session
    KEEP/spool/         what was judged and is not in the store yet
    KEEP/store.sqlite   the store, where no other database is named

Takes: an option, or the environment variable HOLDSHORT_DATA_DIR.  Gives: `Keep`, or None where nothing is to be kept.
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
        """Where recordings are."""
        return self.folder / "recordings"

    @property
    def spool(self) -> Path:
        """Where what is not in the store yet is."""
        return self.folder / "spool"

    @property
    def store(self) -> Path:
        """The store's file."""
        return self.folder / "store.sqlite"

    def create(self) -> None:
        """Make the folders that are not there.

        Raises:
            InputFaults: One cannot be made.
        """
        for folder in (self.folder, self.recordings, self.spool):
            try:
                folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            except OSError as error:
                what = f"this folder cannot be made ({error.strerror or error})"
                hint = f"name another with --data-dir, or keep nothing with --data-dir {OFF}"
                raise InputFaults([Fault(Place(str(folder)), what, "a folder", hint)]) from None


def resolve_data_dir(option: str, *, default: str | None = None) -> DataDir | None:
    """What an option says.

    Args:
        option: A folder, `off`, or '' where it was not given: then the environment variable counts.
        default: What holds where that is not set either; None for the user's own data folder.

    Returns:
        The folder, made; None where nothing is to be kept.

    Raises:
        InputFaults: It cannot be made.
    """
    said = option or os.environ.get(ENVIRONMENT_VARIABLE, "") or (default if default is not None else "")
    if said == OFF:
        return None
    keep = DataDir(Path(said).expanduser() if said else user_data_path("holdshort", appauthor=False))
    keep.create()
    return keep
