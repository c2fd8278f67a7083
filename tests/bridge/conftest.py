"""What the tests of the bridge share.

Takes: nothing.  Gives: fixtures.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import NamedTuple

import pytest

from bridge.cli import main
from rules.packs.model import Pack
from tests.bridge.making import small_pack
from tests.contract.until import Clock


class Ended(NamedTuple):
    """How a command ended."""

    code: int
    out: str
    err: str


Command = Callable[..., Ended]


@pytest.fixture(scope="session")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """The small pack."""
    return small_pack(tmp_path_factory.mktemp("packs") / "small")


@pytest.fixture
def clock() -> Clock:
    """A clock that stands until it is moved."""
    return Clock()


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """Runs `holdshort` with some words, in this process, and gives how it ended."""

    def run(*words: object) -> Ended:
        monkeypatch.setattr(sys, "argv", ["holdshort", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            main()
        said = capsys.readouterr()
        code = ended.value.code
        assert isinstance(code, int)
        return Ended(code, said.out, said.err)

    return run
