"""One thing to fuzz: how to set it up, how to run one input, and what to begin with."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

RunInput: TypeAlias = Callable[[bytes], None]
"""Runs one input; whatever it raises is a defect."""


class BrokenPromiseError(Exception):
    """A promise was broken without an exception of the program itself."""


@dataclass(frozen=True, slots=True)
class FuzzTarget:
    """Something that reads bytes from outside.

    Attributes:
        name: The name on the command line and of the files.
        build: Sets it up once in a folder of its own, and gives the function that runs one input.
        seeds: Inputs to begin with.
    """

    name: str
    build: Callable[[Path], RunInput]
    seeds: Callable[[], list[bytes]]
