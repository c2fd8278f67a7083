"""`python -m tests.browser FOLDER`: pictures of every view, to be looked at.

Takes: a folder.  Gives: PNG files.
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.browser.screenshots import save_screenshots

if len(sys.argv) != 2:
    sys.exit("python -m tests.browser FOLDER")
print(f"{save_screenshots(Path(sys.argv[1]))} pictures in {sys.argv[1]}")  # noqa: T201 - says where they are
