"""Imports the modules of other packages that add their own links, decoders and notifiers to the contract suites.

Takes: the environment variable `HOLDSHORT_CONTRACT`, module names separated by commas.  Gives: nothing.

    HOLDSHORT_CONTRACT=my_package.contract python -m pytest tests/contract
"""

from __future__ import annotations

import importlib
import os


def import_third_party() -> None:
    """Import each named module; a module that is already imported is skipped by Python itself."""
    for module in filter(None, os.environ.get("HOLDSHORT_CONTRACT", "").split(",")):
        importlib.import_module(module)
