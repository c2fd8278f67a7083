"""Tests of the report that need no flight: texts for the style sheet, and a missing system library."""

from __future__ import annotations

import sys
from typing import cast

import pytest

from bridge.debrief.model import DebriefData
from bridge.debrief.report.document import css_string, render_pdf
from rules.faults import InputFaults


def test_a_text_is_quoted_for_the_style_sheet() -> None:
    """No character of a text ends the CSS string or opens a tag."""
    assert css_string('Operator\'s "manual" </style>') == (
        '"Operator\\000027s \\000022manual\\000022 \\00003c\\00002fstyle\\00003e"'
    )


def test_a_missing_system_library_is_named_with_its_install_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where Pango cannot be loaded, the fault says what installs it; pip cannot."""

    class NoPango:
        def find_spec(self, name: str, *_: object) -> None:
            if name == "weasyprint":
                raise OSError("cannot load library 'libpango-1.0-0'")

    monkeypatch.delitem(sys.modules, "weasyprint", raising=False)
    monkeypatch.setattr(sys, "meta_path", [NoPango(), *sys.meta_path])
    with pytest.raises(InputFaults, match="apt-get install libpango") as caught:
        render_pdf(cast(DebriefData, None))  # Pango is looked for first
    assert "libpango-1.0-0'" in str(caught.value)
    assert "pip install" not in str(caught.value)
