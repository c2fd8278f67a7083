"""The sounds of the alert levels, which differ by their rhythm, so that pitch is not needed.

A warning is three quick pulses, a pause, and the same twice again; a caution is two tones, the second longer; an
advisory is one soft tone.  Common practice, no source; what 14 CFR 25.1322 asks is only that levels differ.

Takes: a pattern.  Gives: a WAV file in memory: 16 bit, one channel.
"""

from __future__ import annotations

import array
import math
from collections.abc import Sequence
from dataclasses import dataclass

from rules.packs.model import Level

RATE_HZ = 24_000
_FADE_S = 0.008
"""Each tone fades in and out over this time, so that there is no click."""


@dataclass(frozen=True, slots=True)
class Tone:
    """One tone, or a pause if `pitch_hz` is 0; `volume` is 0 to 1."""

    pitch_hz: float
    length_s: float
    volume: float = 0.5


_PULSES = (Tone(960, 0.11, 0.7), Tone(0, 0.05)) * 3
PATTERNS: dict[Level, tuple[Tone, ...]] = {
    Level.WARNING: (*_PULSES, Tone(0, 0.25)) * 3,
    Level.CAUTION: (Tone(780, 0.16), Tone(0, 0.07), Tone(620, 0.32)),
    Level.ADVISORY: (Tone(520, 0.28, 0.35),),
}


def samples_of(pattern: Sequence[Tone]) -> array.array[int]:
    """Make 16-bit samples of a pattern."""
    samples = array.array("h")
    for tone in pattern:
        count = round(tone.length_s * RATE_HZ)
        ramp = max(1, min(round(_FADE_S * RATE_HZ), count // 2))
        radians = 2 * math.pi * tone.pitch_hz / RATE_HZ
        samples.extend(
            round(32767 * tone.volume * min(1.0, n / ramp, (count - n) / ramp) * math.sin(radians * n))
            for n in range(count)
        )
    return samples
