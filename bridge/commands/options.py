"""Options that several commands share.

Takes: nothing.  Gives: Typer's annotations for them, `naming` for faults of their files, and a text on a pack with faults.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Annotated, TypeAlias

import typer

from bridge.page.address import OFF
from rules.faults import InputFaults, Place

ALLOW_MOST = "--allow-most"
DataDirOption: TypeAlias = Annotated[
    str,
    typer.Option("--data-dir", metavar="FOLDER", help="Folder of recordings and the store; off for none."),
]
RecordingsLimitOption: TypeAlias = Annotated[
    float,
    typer.Option(
        "--recordings-limit",
        metavar="GB",
        help="Limit of all recordings together; the oldest are removed first.",
        min=0.01,
    ),
]
StoreOption: TypeAlias = Annotated[
    str,
    typer.Option("--store", metavar="URL", help="Database instead of a file in the folder: postgresql://…"),
]
PageOption: TypeAlias = Annotated[
    str, typer.Option("--page", metavar="HOST:PORT", help=f"Address of the page; {OFF} for none.")
]
KeyFileOption: TypeAlias = Annotated[
    Path | None,
    typer.Option("--key-file", help="File that keeps the page's key from one run to the next."),
]
NotifyOption: TypeAlias = Annotated[
    list[str] | None,
    typer.Option(
        "--notify",
        metavar="ADDRESS",
        help="Send notices there, or messages of all kinds: zmq-pub://, udp-line://, http(s)://, sound:.",
    ),
]
SpeakOption: TypeAlias = Annotated[
    bool, typer.Option("--speak", help="Speak through this machine's loudspeaker.")
]
ByOption: TypeAlias = Annotated[
    str, typer.Option("--by", help="Who requests it: a seat, ground, atc, cabin, company, instructor.")
]
ControlPortOption: TypeAlias = Annotated[
    int,
    typer.Option("--control-port", metavar="PORT", help="Control port of the watch.", min=1, max=65535),
]
YesOption: TypeAlias = Annotated[bool, typer.Option("--yes", help="Do not ask for confirmation.")]
AllowMostOption: TypeAlias = Annotated[
    bool, typer.Option(ALLOW_MOST, help="Allow removing more than half of all sessions.")
]


@contextmanager
def naming(option: str) -> Iterator[None]:
    """Put the name of an option before the faults of its file that have no line, such as `no such file`.

    Raises:
        InputFaults: the faults, with the option's name.
    """
    try:
        yield
    except InputFaults as error:
        raise InputFaults(
            replace(fault, place=Place(f"{option}: {fault.place.file}")) if not fault.place.line else fault
            for fault in error.faults
        ) from error


def faulty_conditions_text(count: int) -> str:
    """Say how many conditions of a pack have faults, and what follows from it."""
    words = "condition has faults and is" if count == 1 else "conditions have faults and are"
    return f"{count} {words} shown as unknown"
