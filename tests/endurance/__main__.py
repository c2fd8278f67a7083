"""Endurance: `python -m tests.endurance --hours 24` sends flights to a watch, `--hostile 1000000` hostile packets.

`--hours` flies sectors and circuits one after another, with slips and network faults, as fast as the watch judges them.
`--minutes` ends it earlier, after so much real time.  `--hostile` sends packets beside a good sender, `--rate-limit` a second.

Takes: words of the command line.  Gives: a table, a verdict, a picture; the exit code is 1 where a rule is not met.
"""

from __future__ import annotations

import argparse
import asyncio
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.table import Table

from tests.endurance.flight_run import rejudge_newest, run_flights
from tests.endurance.flood_run import run_flood
from tests.endurance.measurements import FlightMeasurements, FloodMeasurements, WatchSample, percentile
from tests.endurance.report_plot import draw
from tests.endurance.verdict import RuleOutcome, judge_flights, judge_flood

WIDTH = 132
console = Console(width=WIDTH, highlight=False)


def main(arguments: Sequence[str]) -> int:
    """Run what the command line names; give the exit code."""
    given = _parse(arguments)
    outcomes: list[RuleOutcome] = []
    with tempfile.TemporaryDirectory() as name:
        folder = given.folder or Path(name)
        if given.hours:
            outcomes += _fly(given, folder / "flights")
        if given.hostile:
            outcomes += _flood(given, folder / "hostile")
    bad = sum(not outcome.good for outcome in outcomes)
    console.print(f"verdict: {'bad' if bad else 'good'}, {bad} of {len(outcomes)} rules not met")
    return 1 if bad else 0


def _fly(given: argparse.Namespace, folder: Path) -> list[RuleOutcome]:
    """Send flights, and print what was measured."""
    run = asyncio.run(_measured_flights(given, folder))
    last = run.samples[-1]
    _draw(given.picture, f"{last.flown_s / 3600.0:.1f} simulated hours", run.samples, run.recordings_limit_mb)
    _print_samples(run.samples)
    _print_flights(run)
    return _print_outcomes(judge_flights(run))


async def _measured_flights(given: argparse.Namespace, folder: Path) -> FlightMeasurements:
    run = await run_flights(
        folder, hours=given.hours, minutes=given.minutes, rate_hz=given.rate, seed=given.seed,
        recordings_limit_mb=given.limit, on_sample=_print_sample,
    )  # fmt: skip
    run.rejudged = await rejudge_newest(folder / "data")
    return run


def _flood(given: argparse.Namespace, folder: Path) -> list[RuleOutcome]:
    """Send hostile packets, and print what was measured."""
    run = asyncio.run(
        run_flood(
            folder, packets=given.hostile, rate=given.rate_limit, seed=given.seed, on_sample=_print_sample
        )
    )
    _draw(given.picture, f"{run.hostile} hostile packets", run.samples)
    _print_samples(run.samples)
    _print_flood(run)
    return _print_outcomes(judge_flood(run))


def _draw(path: Path | None, title: str, samples: Sequence[WatchSample], limit_mb: float = 0.0) -> None:
    if path is not None:
        draw(path, title, samples, limit_mb)
        console.print(f"picture: {path}")


def _print_sample(sample: WatchSample) -> None:
    """Print one line of progress."""
    console.print(
        f"{sample.wall_s:6.0f} s  flown {sample.flown_s / 3600.0:6.2f} h  {sample.memory_mb:4.0f} MB  "
        f"{sample.open_files} open  recordings {sample.recordings_mb:.1f} MB  frames {sample.frames}  "
        f"refused {sample.refused}  dropped {sample.dropped}  answer {sample.answer_s * 1000.0:.0f} ms"
    )


def _print_samples(samples: Sequence[WatchSample]) -> None:
    """Print a table of ten samples, evenly over the run."""
    table = Table(
        "minute", "hours flown", "memory MB", "open files", "threads", "files", "data MB", "frames/s"
    )
    step = max(1, len(samples) // 10)
    chosen = samples[::step] if samples[::step][-1] is samples[-1] else [*samples[::step], samples[-1]]
    for before, sample in zip([None, *chosen], chosen, strict=False):
        span_s = sample.wall_s - (before.wall_s if before else 0.0)
        frames = sample.frames - (before.frames if before else 0)
        table.add_row(
            f"{sample.wall_s / 60.0:.1f}", f"{sample.flown_s / 3600.0:.2f}", f"{sample.memory_mb:.0f}",
            str(sample.open_files), str(sample.threads), str(sample.data_files), f"{sample.data_mb:.1f}",
            f"{frames / max(span_s, 1e-9):.0f}",
        )  # fmt: skip
    console.print(table)


def _print_flights(run: FlightMeasurements) -> None:
    last = run.samples[-1]
    hours, faster = last.flown_s / 3600.0, last.flown_s / max(last.wall_s, 1e-9)
    console.print(
        f"{run.flights} flights, {hours:.1f} simulated hours in {last.wall_s / 60.0:.1f} min, {faster:.0f} times real time; "
        f"{last.frames} frames, {last.frames / max(last.processor_s, 1e-9):.0f} in a second of the watch's processor time, "
        f"of which it had {last.processor_s / max(last.wall_s, 1e-9):.0%}; behind {run.behind} times"
    )
    for name, same in run.rejudged.items():
        console.print(f"judged again, {'the same' if same else 'DIFFERENT'}: {name}")
    _print_delays(run.answers_s, run.delays_s)


def _print_flood(run: FloodMeasurements) -> None:
    pace = run.hostile / max(run.took_s, 1e-9)
    console.print(
        f"{run.hostile} hostile packets in {run.took_s:.1f} s, {pace:.0f} a second; "
        f"dropped by the system {run.system_dropped}, by the watch {run.dropped}"
    )
    for why, number in sorted(run.refusals.items(), key=lambda each: -each[1]):
        console.print(f"refused {number:9}: {why}")
    _print_delays(run.answers_s, run.delays_s)


def _print_delays(answers_s: Sequence[float], delays_s: Sequence[float]) -> None:
    for what, values in (("control port", answers_s), ("judged and printed", delays_s)):
        figures = ", ".join(
            f"p{share:.0%}"[:-1] + f" {percentile(values, share) * 1000:.0f} ms" for share in (0.5, 0.9, 0.99)
        )
        console.print(f"delay, {what}: {figures}, longest {max(values, default=0.0) * 1000:.0f} ms")


def _print_outcomes(outcomes: list[RuleOutcome]) -> list[RuleOutcome]:
    for outcome in outcomes:
        console.print(
            f"{'good' if outcome.good else 'BAD ':4} {outcome.rule}: {outcome.numbers}", markup=False
        )
    return outcomes


def _parse(arguments: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.endurance")
    parser.add_argument("--hours", type=float, default=0.0, help="simulated hours of flights")
    parser.add_argument(
        "--minutes", type=float, default=1e9, help="real minutes after which no frame is sent"
    )
    parser.add_argument("--rate", type=float, default=4.0, help="frames of a simulated second; 4")
    parser.add_argument("--limit", type=float, default=60.0, help="limit of the recordings in MB; 60")
    parser.add_argument("--hostile", type=int, default=0, help="number of hostile packets")
    parser.add_argument(
        "--rate-limit", type=int, default=20_000, help="hostile packets of a second; 20 000, 0 for all speed"
    )
    parser.add_argument("--seed", type=int, default=1, help="seed of flights, networks and packets")
    parser.add_argument("--picture", type=Path, help="file of the picture, as PNG")
    parser.add_argument("--folder", type=Path, help="empty folder in which the data of the watch stay")
    given = parser.parse_args(arguments)
    if not given.hours and not given.hostile:
        parser.error("give --hours or --hostile")
    return given


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
