"""`holdshort rejudge`: judge a recording again and list the differences from the recorded events.

Takes: a recording, a pack, and another trip sheet if there is one.  Gives: differences; exit code 0 the same to the byte,
1 something differs, 2 bad input.

With `--json` one object:

    same            true if every event is the same to the byte
    recorded_with   the pack of the recording: id, title, version, digest
    judged_with     the pack of now, likewise
    frames          the number of frames
    events          the number of events: [before, after]
    differences     findings, notices and phases that differ, in the order of their times
    counts          by kind of event how many differ in any way: [before, after]
    fault           the place where the recording ends early, or that its session still runs, as printed, or null
    caution         that this is for simulation only

Each of `differences` has `kind` (finding, notice, phase), `difference` (new, gone, different), `before` and `after` (its
fields, or null), and `fields`, the names of those that differ.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Any

import msgspec
import typer
from rich.console import Console
from rich.text import Text

from bridge.commands.options import naming
from bridge.common.disclaimer import SHORT_DISCLAIMER
from bridge.common.time_text import format_sim_time
from bridge.recording.file_format import RecordedPack, RecordedTrip, RecordingHead
from bridge.recording.reader import Recording, open_recording
from bridge.recording.replay_judge import trip_of_head
from bridge.rejudge.difference import OutputDifference, RejudgeComparison, compare
from bridge.rejudge.judging import RejudgeResult
from bridge.rejudge.judging import rejudge as judge_again
from bridge.terminal.console import make_console
from bridge.terminal.progress_bar import progress_bar
from rules.faults import Fault, InputFaults, Place
from rules.packs.load_pack import SHIPPED_DIR, load_pack
from rules.packs.model import Pack
from rules.packs.trip_sheet import load_trip_sheet
from rules.words import words_of_id


def rejudge(
    recording: Annotated[Path, typer.Argument(help="A recording (its first part).", metavar="RECORDING")],
    *,
    pack: Annotated[
        str, typer.Option("--pack", help="A pack's folder, or the name of one that we ship.")
    ] = "",
    trip: Annotated[
        Path | None, typer.Option("--trip", help="Another trip sheet than that of the recording.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Judge a recording again and list differences.

    The differences are those from the recorded events.
    """
    opened = open_recording(recording)
    if trip is not None:
        opened.head = _with_trip(opened.head, trip)
    rules = _pack(recording, opened.head, pack)
    with progress_bar() as on_progress:
        judged = judge_again(opened, rules, on_progress)
    difference = compare(judged.before, judged.after)
    ours = RecordedPack(rules.id, rules.title, rules.version, rules.source_digest)
    if as_json:
        sys.stdout.write(_result_as_json(opened, ours, judged, difference) + "\n")
    else:
        _print_result(make_console(), opened, ours, judged, difference)
    for fault in (*rules.faults, *([opened.fault] if opened.fault else ())):
        typer.echo(str(fault), err=True)
    raise typer.Exit(0 if difference.same else 1)


def _pack(recording: Path, head: RecordingHead, path_or_name: str) -> Pack:
    """Load the pack that was given, otherwise the one that we ship under the recording's name."""
    trip = trip_of_head(head)
    if path_or_name or (SHIPPED_DIR / head.pack.id).is_dir():
        return load_pack(path_or_name or head.pack.id, trip=trip)
    what = f"its pack {head.pack.id} ({head.pack.title}) is not one that we ship"
    raise InputFaults([Fault(Place(str(recording)), what, "the folder of that pack", "give it with --pack")])


def _with_trip(head: RecordingHead, path: Path) -> RecordingHead:
    """Replace the trip sheet of a head."""
    with naming("--trip"):
        trip = load_trip_sheet(path)
    return msgspec.structs.replace(
        head, trip=RecordedTrip(trip.title, dict(trip.values), trip.inoperative, trip.note, trip.calls)
    )


def _result_as_json(
    recording: Recording, current_pack: RecordedPack, judged: RejudgeResult, difference: RejudgeComparison
) -> str:
    plain = {
        "same": difference.same,
        "recorded_with": recording.head.pack,
        "judged_with": current_pack,
        "frames": judged.frames,
        "events": (len(judged.before), len(judged.after)),
        "differences": [_difference_as_json(other) for other in difference.differences],
        "counts": difference.counts,
        "fault": None if recording.fault is None else str(recording.fault),
        "disclaimer": SHORT_DISCLAIMER,
    }
    return msgspec.json.encode(plain).decode()


def _difference_as_json(other: OutputDifference) -> dict[str, Any]:
    return {
        "kind": other.kind,
        "difference": other.difference,
        "before": other.before,
        "after": other.after,
        "fields": other.fields,
    }


def _print_result(
    console: Console,
    recording: Recording,
    current_pack: RecordedPack,
    judged: RejudgeResult,
    difference: RejudgeComparison,
) -> None:
    head = recording.head
    console.print(
        f"{head.title or head.device}: {judged.frames} frames, {len(judged.before)} events", highlight=False
    )
    console.print(f"recorded with {_pack_text(head.pack)}", highlight=False)
    console.print(
        f"judged with {_pack_text(current_pack)}{_same_rules_text(head.pack, current_pack)}", highlight=False
    )
    if not judged.by_columns:
        console.print("judged frame by frame, since columns cannot represent this recording")
    if difference.same:
        console.print("Every event is the same to the byte.")
    for other in difference.differences:
        console.print(_difference_line(other), soft_wrap=True)
    if not difference.same and not difference.differences:
        console.print("Findings, notices and phases are the same.")
    for kind, (before, after) in difference.counts.items():
        console.print(f"  {kind}: {before} before, {after} after", highlight=False)
    console.print(SHORT_DISCLAIMER, style="dim")


def _pack_text(rules: RecordedPack) -> str:
    return f"{rules.title}, version {rules.version}"


def _same_rules_text(before: RecordedPack, now: RecordedPack) -> str:
    """Say whether the rules are the same, where the version cannot show it."""
    if not before.digest or before.version != now.version or before.id != now.id:
        return ""
    return ": the same rules" if before.digest == now.digest else ": not the same rules"


def _difference_line(other: OutputDifference) -> Text:
    """Format one difference as a line."""
    shown = other.latest
    line = Text(f"{format_sim_time(float(shown['sim_s']))} {other.difference:9} {other.kind:8} ")
    line.append(str(shown.get("sentence") or shown.get("phase")))
    if other.kind == "finding":
        line.append(f" ({shown['item']}, {words_of_id(str(shown['kind']))})")
    if other.before is not None and other.after is not None:
        line.append(
            ": " + "; ".join(f"{n} {other.before.get(n)} -> {other.after.get(n)}" for n in other.fields)
        )
    return line
