"""The text of a debrief on paper, extracted from its PDF.

Takes: a debrief and its plots.  Gives: the text, or each word with its place on the page.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from importlib import import_module
from pathlib import Path
from typing import NamedTuple

from bridge.debrief.drawing.plots import Plots
from bridge.debrief.model import DebriefData
from bridge.debrief.report.document import PANGO_HINT, render_pdf
from tests.requirements import PDFTOTEXT, skip_or_fail

_PAGE = re.compile(r'<page width="([\d.]+)" height="([\d.]+)">(.*?)</page>', re.S)
_WORD = re.compile(r'<word xMin="(-?[\d.]+)" yMin="(-?[\d.]+)" xMax="(-?[\d.]+)" yMax="(-?[\d.]+)">')


class PlacedWord(NamedTuple):
    """A word's box and the size of its page, in points from the upper left corner."""

    left: float
    top: float
    right: float
    bottom: float
    page_width: float
    page_height: float

    @property
    def is_on_the_page(self) -> bool:
        """True if no part of it lies outside."""
        return (
            0 <= self.left < self.right <= self.page_width and 0 <= self.top < self.bottom <= self.page_height
        )


def save_pdf(debrief: DebriefData, plots: Plots, path: Path) -> None:
    """Write the PDF; skip the test where the library for it is missing."""
    try:
        import_module("weasyprint")
    except OSError:
        skip_or_fail(PANGO_HINT)
    path.write_bytes(render_pdf(debrief, plots))


def text_of(path: Path, *options: str) -> str:
    """Extract the text of a PDF; options are those of pdftotext."""
    program = shutil.which("pdftotext")
    if program is None:
        skip_or_fail(PDFTOTEXT)
    return subprocess.run([program, *options, path, "-"], check=True, capture_output=True, text=True).stdout


def words_of(path: Path) -> list[PlacedWord]:
    """Extract each word with its place."""
    return [
        PlacedWord._make(map(float, (*word, width, height)))
        for width, height, words in _PAGE.findall(text_of(path, "-bbox"))
        for word in _WORD.findall(words)
    ]
