"""Fixtures of the tests of the page in a real browser.

Takes: nothing.  Gives: fixtures.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.browser.conftest import browser

__all__ = ["address", "browser"]


@pytest.fixture(scope="module")
def address(page: str, tmp_path_factory: pytest.TempPathFactory) -> str:
    """The address of the page as a file, as a reader opens it."""
    path = tmp_path_factory.mktemp("page") / "debrief.html"
    path.write_text(page, encoding="utf-8")
    return Path(path).as_uri()
