"""`python -m mock_sim.jsbsim.process jet --port 5139`: fly a stock aeroplane of the library and print its events.

Takes: the command line.  Gives: exit code 0 at the end of the flight, 2 for a flight that is not possible.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from mock_sim.jsbsim.installation import INSTALL_HINT, jsbsim_installed
from mock_sim.jsbsim.process.command import ScheduleEvent
from mock_sim.jsbsim.process.fly import FlightJob, fly
from mock_sim.jsbsim.process.slips import SLIPS, check_slips
from rules.faults import InputFaults

_MAX_SPEED = 1000.0


def main(arguments: Sequence[str] | None = None, *, installed: bool | None = None) -> int:
    """Parse the command line and fly.

    Args:
        arguments: The command line's words; None: those of this process.
        installed: True if the library is installed; None: check.
    """
    options = argument_parser().parse_args(arguments)
    if not (jsbsim_installed() if installed is None else installed):
        print(f"the JSBSim library is not installed; {INSTALL_HINT}", file=sys.stderr)  # noqa: T201 - a command
        return 2
    try:
        slips = check_slips(options.kind, options.slip)
    except InputFaults as faults:
        print(faults, file=sys.stderr)  # noqa: T201 - a command
        return 2
    return _fly_job(
        FlightJob(options.kind, options.port, options.speed, slips, options.seconds, options.reset_at),
        as_json=options.json,
    )


def _fly_job(job: FlightJob, *, as_json: bool) -> int:
    """Fly from a temporary folder, and return to the present one."""
    # SIGTERM is handled as Ctrl-C, so that the temporary folder is removed.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    home, done = Path.cwd(), list[ScheduleEvent]()
    try:
        fly(job, done.append if as_json else _print_event)
    except KeyboardInterrupt:
        return 130
    finally:
        os.chdir(home)
    if as_json:
        print(json.dumps({"slips": [_slip_data(job.kind, event) for event in done if event.slip]}))  # noqa: T201 - a command
    return 0


def _slip_data(kind: str, event: ScheduleEvent) -> dict[str, Any]:
    """Return a slip as plain data, in the form of the mock crew's slips."""
    slip = SLIPS[kind][event.slip]
    return {
        "id": event.slip,
        "seat": "pilot",
        "sim_s": round(event.sim_s, 3),
        "kind": slip.kind,
        "sentence": slip.sentence,
        "signals": slip.signals,
    }


def _print_event(event: ScheduleEvent) -> None:
    """Print an event at once, since a reader waits for it."""
    print(event, flush=True)  # noqa: T201 - a command


def argument_parser() -> argparse.ArgumentParser:
    """Build the parser of the options."""
    slips = "; ".join(f"{kind}: {', '.join(known)}" for kind, known in SLIPS.items())
    parser = argparse.ArgumentParser(
        prog="python -m mock_sim.jsbsim.process",
        description="Flies a stock aeroplane of the JSBSim library on our schedule. For flight simulation only.",
    )
    add = parser.add_argument
    add("kind", choices=tuple(SLIPS), help="The stock twin jet or the stock piston single.")
    add("--port", type=_parse_port, required=True, help="The UDP port on 127.0.0.1 to send to.")
    add("--speed", type=_parse_speed, default=20.0, help="Simulated seconds in a real second, at most 1 000.")
    add(
        "--slip", action="append", default=[], metavar="NAME",
        help=f"A slip to make; may be given several times: demo, all, or {slips}.",
    )  # fmt: skip
    add(
        "--seconds", type=_parse_seconds, default=0.0,
        help="Ends the flight after this many simulated seconds; 0 flies to the end of the schedule.",
    )  # fmt: skip
    add(
        "--reset-at", type=_parse_seconds, default=0.0,
        help="Puts the aeroplane back to its start position once, at this simulated second, and flies again; 0: never.",
    )  # fmt: skip
    add("--json", action="store_true", help="Prints only one JSON object at the end, with the slips.")
    return parser


def _parse_port(text: str) -> int:
    """Parse a port to send to."""
    port = int(text)
    if not 1 <= port <= 65535:
        raise argparse.ArgumentTypeError(f"{text} is not a port, expected 1 to 65535")
    return port


def _parse_speed(text: str) -> float:
    """Parse a simulation speed."""
    speed = float(text)
    if not 0 < speed <= _MAX_SPEED:
        raise argparse.ArgumentTypeError(
            f"{text} is not a speed, expected more than 0, at most {_MAX_SPEED:g}"
        )
    return speed


def _parse_seconds(text: str) -> float:
    """Parse a simulated time."""
    seconds = float(text)
    if not 0 < seconds < 1e6:
        raise argparse.ArgumentTypeError(f"{text} is not a number of seconds, expected more than 0")
    return seconds


if __name__ == "__main__":
    sys.exit(main())
