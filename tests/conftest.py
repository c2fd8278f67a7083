"""What all tests share: nothing of them is kept in the user's own folder.

Takes: nothing.  Gives: the environment of this process and of those that it starts.
"""

from __future__ import annotations

import os

os.environ.setdefault("HOLDSHORT_KEEP", "off")
os.environ.pop("HOLDSHORT_STORE", None)
