"""What the tests of the page in a real browser share.

Takes: nothing.  Gives: fixtures.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.browser.conftest import browser

__all__ = ["address", "browser"]


@pytest.fixture(scope="module")
def address(page: str, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Where the page stands as a file, as who is sent it opens it."""
    path = tmp_path_factory.mktemp("page") / "debrief.html"
    path.write_text(page, encoding="utf-8")
    return Path(path).as_uri()
