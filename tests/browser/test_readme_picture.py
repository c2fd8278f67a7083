"""Tests of the picture of the README: its format and size, and the command that makes it.

Takes: the file in the repository, and a page.  Gives: tests.
"""

from __future__ import annotations

import struct
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.browser.paused_flight import PausedPage
from tests.browser.screenshots import README_PICTURE, README_SIZE, save_readme_picture_with

PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"
MAX_BYTES = 150_000
RENEW = "the page has other words: take the picture again with python -m tests.browser --readme"


def png_size(data: bytes) -> tuple[int, int]:
    """Read width and height from the header of a PNG (ISO/IEC 15948, 11.2.2)."""
    assert data.startswith(PNG_SIGNATURE)
    assert data[12:16] == b"IHDR"
    width, height = struct.unpack(">II", data[16:24])
    return width, height


def test_the_picture_in_the_repository_is_a_small_png() -> None:
    """The committed picture is a PNG of the size of the command, below 150 kB."""
    data = README_PICTURE.read_bytes()
    assert png_size(data) == README_SIZE
    assert len(data) < MAX_BYTES


@pytest.mark.browser
def test_the_command_makes_the_picture(browser: Browser, paused: PausedPage, tmp_path: Path) -> None:
    """The picture of the real page is a PNG of the same size, and the page still has the words of the committed one."""
    path = tmp_path / "ahead.png"
    save_readme_picture_with(browser, paused, path)
    data = path.read_bytes()
    assert png_size(data) == README_SIZE
    assert len(data) < MAX_BYTES
    words = path.with_suffix(".txt").read_text(encoding="utf-8")
    assert words == README_PICTURE.with_suffix(".txt").read_text(encoding="utf-8"), RENEW
