"""The callback by which long work reports its progress.

Takes: nothing.  Gives: the type of the callback.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

ProgressCallback: TypeAlias = Callable[[str, int, int | None], None]
"""Called with the name of a step, how much more of it is done, and its total (None where unknown)."""
