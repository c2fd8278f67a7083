"""The aeroplane that the tests of the shared parts use.

Takes: nothing.  Gives: `dark`.
"""

from __future__ import annotations

import pytest

from mock_sim.twin_jet import Halyard220


@pytest.fixture
def dark() -> Halyard220:
    """Give a Halyard 220, parked and without power."""
    return Halyard220(noise=False)
