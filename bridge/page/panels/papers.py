"""The trip sheet as a form.

Takes: a rig.  Gives: what `papers.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.page.papers import sections
from bridge.rig import Rig


def papers(rig: Rig) -> Mapping[str, object]:
    """The papers that hold."""
    return {
        "title": rig.papers.title,
        "note": rig.papers.note,
        "inoperative": rig.papers.inoperative,
        "sections": sections(rig),
        "seats": rig.pack.seats,
    }
