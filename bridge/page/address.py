"""Default address of the page, apart from the server, so that options can name it without importing the server.

Takes: nothing.  Gives: constants.
"""

from __future__ import annotations

from typing import Final

DEFAULT_PORT: Final = 47811
DEFAULT_ADDRESS: Final = f"127.0.0.1:{DEFAULT_PORT}"
OFF: Final = "off"
