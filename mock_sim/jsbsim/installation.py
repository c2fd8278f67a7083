"""Check for the JSBSim library, and how to install it.

Takes: nothing.  Gives: `jsbsim_installed` and `INSTALL_HINT`.
"""

from __future__ import annotations

import importlib.util

INSTALL_HINT = "pip install 'holdshort[real]', or in a clone python3 .ci/fresh tools"
"""The command that installs the library."""


def jsbsim_installed() -> bool:
    """Return True if the library is installed."""
    return importlib.util.find_spec("jsbsim") is not None
