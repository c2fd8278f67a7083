"""Handles requests that control a playback: start, pause, seek and speed.

Takes: a player and requests.  Gives: replies and the status of the playback.
"""

from __future__ import annotations

import math

from bridge.common.time_text import format_sim_time, parse_sim_time
from bridge.recording.player import MAX_SPEED, MIN_SPEED, RecordingPlayer
from bridge.runtime.device import PlaybackStatus
from bridge.session.requests import Reply, Request, command_of
from rules.faults import Fault, InputFaults, Place


class PlaybackController:
    """Controls one player."""

    def __init__(self, player: RecordingPlayer) -> None:
        """Control the player; its duration is read when it is first needed."""
        self._player = player
        self._duration_s: float | None = None

    def handle(self, request: Request) -> Reply:
        """Do what is asked: start, pause, seek to the time in `name`, or set the speed in `name`."""
        try:
            return Reply(accepted=True, text=self._apply(request))
        except InputFaults as faults:
            return Reply(accepted=False, text=str(faults))

    def status(self) -> PlaybackStatus:
        """Return the position, end, speed and state of the playback."""
        if self._duration_s is None:
            self._duration_s = self._player.duration_s()
        to_s = min(self._player.end_s, self._duration_s)
        return PlaybackStatus(
            min(self._player.position_s, to_s),
            to_s,
            self._player.speed,
            running=self._player.playing and not self._player.ended,
            ended=self._player.ended,
        )

    def _apply(self, request: Request) -> str:
        player = self._player
        match request.verb:
            case "playback_start":
                player.play()
                return f"playing from {format_sim_time(player.position_s)}"
            case "playback_pause":
                player.pause()
                return f"paused at {format_sim_time(player.position_s)}"
            case "playback_seek":
                player.seek(self._parse_position(request.name))
                return f"from {format_sim_time(player.position_s)}; a new session starts there"
            case _:
                player.set_speed(_parse_speed(request.name))
                return f"speed {player.speed:g}"

    def _parse_position(self, text: str) -> float:
        """Parse a time such as 0:10:00, or an offset in seconds such as +60 or -60."""
        sign = text[:1]
        seconds = parse_sim_time(text.lstrip("+-"))
        if seconds is None:
            raise _refusal("playback_seek", text, "a time such as 0:10:00, or +60 or -60 seconds")
        if sign in ("+", "-"):
            seconds = self._player.position_s + (seconds if sign == "+" else -seconds)
        return min(max(0.0, seconds), self.status().end_s)


def _parse_speed(text: str) -> float:
    try:
        speed = float(text)
    except ValueError:
        speed = math.nan
    if not MIN_SPEED <= speed <= MAX_SPEED:
        raise _refusal("playback_speed", text, f"{MIN_SPEED:g} to {MAX_SPEED:g}")
    return speed


def _refusal(verb: str, text: str, expected: str) -> InputFaults:
    return InputFaults([Fault(Place(command_of(verb)), f"{text or 'nothing'} is not valid", expected)])
