"""The instructor's forms: remark, session, seats.  They are made once for a page, so that nothing moves while somebody types.

Takes: a rig.  Gives: what `instructor_forms.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.requests import LONGEST_NAME, LONGEST_REMARK
from bridge.rig import Rig


def instructor_forms(rig: Rig, _: Mapping[str, str]) -> Mapping[str, object]:
    """The session's name and who sits where, to be changed."""
    return {
        "seats": [(seat, title, rig.session.crew.get(seat, "")) for seat, title in rig.pack.seats.items()],
        "name": rig.session.name,
        "longest_name": LONGEST_NAME,
        "longest_remark": LONGEST_REMARK,
    }
