"""What people turn while a recording is played: go on, stand still, another place, another speed.

Takes: a player, requests.  Gives: replies, and how it plays now.
"""

from __future__ import annotations

import math

from bridge.control import Reply, Request
from bridge.record.link import clocked
from bridge.record.player import FASTEST, SLOWEST, Player
from bridge.record.times import seconds_of
from bridge.rig import Playing
from rules.faults import Fault, InputFaults, Place

STEP_S = 60.0


class Knobs:
    """The knobs of one player."""

    def __init__(self, player: Player) -> None:
        """They stand as the player does; how long the recording is, is found out at the first look."""
        self._player = player
        self._length_s: float | None = None

    def turn(self, request: Request) -> Reply:
        """Do what is asked: `play`, `stop`, `seek` to the time in `name`, `speed` of `name`."""
        try:
            return Reply(done=True, text=self._turned(request))
        except InputFaults as faults:
            return Reply(done=False, text=str(faults))

    def now(self) -> Playing:
        """How it plays now."""
        if self._length_s is None:
            self._length_s = self._player.length_s()
        to_s = min(self._player.to_s, self._length_s)
        return Playing(
            min(self._player.position_s, to_s),
            to_s,
            self._player.speed,
            runs=self._player.playing and not self._player.ended,
            ended=self._player.ended,
        )

    def _turned(self, request: Request) -> str:
        player = self._player
        match request.verb:
            case "play":
                player.play()
                return f"playing from {clocked(player.position_s)}"
            case "stop":
                player.pause()
                return f"standing still at {clocked(player.position_s)}"
            case "seek":
                player.seek(self._place(request.name))
                return f"from {clocked(player.position_s)}; the session begins anew from there"
            case _:
                player.at_speed(_speed(request.name))
                return f"speed {player.speed:g}"

    def _place(self, text: str) -> float:
        """A time such as 0:10:00, or so many seconds on (+60) or back (-60)."""
        sign = text[:1]
        seconds = seconds_of(text.lstrip("+-"))
        if seconds is None:
            raise _refused("seek", text, "a time such as 0:10:00, or +60 or -60 seconds")
        if sign in ("+", "-"):
            seconds = self._player.position_s + (seconds if sign == "+" else -seconds)
        return min(max(0.0, seconds), self.now().to_s)


def _speed(text: str) -> float:
    try:
        speed = float(text)
    except ValueError:
        speed = math.nan
    if not SLOWEST <= speed <= FASTEST:
        raise _refused("speed", text, f"{SLOWEST:g} to {FASTEST:g}")
    return speed


def _refused(verb: str, text: str, expected: str) -> InputFaults:
    return InputFaults([Fault(Place(verb), f"{text or 'nothing'} is none", expected)])
