"""How much memory this process holds.

Takes: nothing.  Gives: kilobytes.
"""

from __future__ import annotations

import gc
from pathlib import Path

import pytest

STATUS = Path("/proc/self/status")


def resident_kb() -> int:
    """The resident set now, after the collector has run; skips the test where the system does not tell."""
    if not STATUS.exists():
        pytest.skip("this system has no /proc: memory cannot be told")
    gc.collect()
    (line,) = (line for line in STATUS.read_text().splitlines() if line.startswith("VmRSS"))
    return int(line.split()[1])
