"""Draws the samples of a run as a picture: memory, files, delays and pace over time.

Takes: samples, delays, a path.  Gives: a PNG file; matplotlib is in the extra `report`.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

from tests.endurance.measurements import WatchSample

SIZE_INCHES = (9.0, 10.0)
DOTS_PER_INCH = 110


def draw(path: Path, title: str, samples: Sequence[WatchSample], limit_mb: float = 0.0) -> None:
    """Draw four panels above each other, over the minutes of the run.

    Args:
        path: The file.
        title: Above the panels.
        samples: In order of time.
        limit_mb: Limit of the recordings; 0 where there is none.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=SIZE_INCHES, layout="constrained")
    memory, files, delay, pace = figure.subplots(4, sharex=True)
    minutes = [sample.wall_s / 60.0 for sample in samples]
    memory.plot(minutes, [sample.memory_mb for sample in samples], label="resident memory, MB")
    files.plot(minutes, [sample.data_mb for sample in samples], label="data folder, MB")
    files.plot(minutes, [sample.recordings_mb for sample in samples], label="recordings, MB")
    if limit_mb:
        files.axhline(limit_mb, linestyle=":", label="limit of the recordings, MB")
    files.plot(minutes, [sample.data_files for sample in samples], label="files")
    files.plot(minutes, [sample.open_files for sample in samples], label="open files")
    delay.plot(
        minutes, [sample.answer_s * 1000.0 for sample in samples], label="answer of the control port, ms"
    )
    pace.plot(minutes[1:], _rates(samples), label="frames judged in a second")
    pace.set_xlabel("minutes of the run")
    for panel in (memory, files, delay, pace):
        panel.set_ylim(bottom=0.0)
        panel.grid(alpha=0.3)
        panel.legend(loc="best", fontsize="small")
    figure.suptitle(title)
    figure.savefig(path, dpi=DOTS_PER_INCH)


def _rates(samples: Sequence[WatchSample]) -> list[float]:
    """Give the frames of a second between each two samples."""
    return [
        (after.frames - before.frames) / max(1e-9, after.wall_s - before.wall_s)
        for before, after in pairwise(samples)
    ]
