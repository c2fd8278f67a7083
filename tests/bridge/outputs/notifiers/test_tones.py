"""Tests of bridge.outputs.notifiers.tones: three sounds that nobody takes for each other, and no click."""

from __future__ import annotations

import io
import itertools
import wave

import pytest

from bridge.outputs.notifiers.tones import PATTERNS, RATE_HZ, Tone, samples_of, wav_of
from rules.packs.model import Level


def rhythm(level: Level) -> list[float]:
    """How long each stretch of sound is, pauses left out: the pattern without its pitch."""
    heard = [(beep.pitch_hz > 0, beep.length_s) for beep in PATTERNS[level]]
    groups = itertools.groupby(heard, key=lambda part: part[0])
    return [length_s for sounds, parts in groups if sounds for _, length_s in parts]


def test_levels_differ_by_rhythm_and_not_by_pitch_only() -> None:
    """A warning is nine pulses in three groups, a caution two tones of two lengths, an advisory one."""
    assert {level: len(rhythm(level)) for level in Level} == {
        Level.WARNING: 9, Level.CAUTION: 2, Level.ADVISORY: 1,
    }  # fmt: skip
    assert len(set(rhythm(Level.CAUTION))) == 2
    once = PATTERNS[Level.WARNING][: len(PATTERNS[Level.WARNING]) // 3]
    assert once * 3 == PATTERNS[Level.WARNING]


@pytest.mark.parametrize("level", list(Level))
def test_a_sound_is_short_not_clipped_and_begins_and_ends_in_silence(level: Level) -> None:
    """At most three seconds; no step at either end; never at the limit of the samples."""
    samples = samples_of(PATTERNS[level])
    assert len(samples) == sum(round(beep.length_s * RATE_HZ) for beep in PATTERNS[level])
    assert len(samples) <= 3 * RATE_HZ
    assert samples[0] == 0
    assert max(abs(sample) for sample in samples[-4:]) < 700
    assert 8000 < max(samples) < 32767 * 0.75
    assert max(abs(b - a) for a, b in itertools.pairwise(samples)) < 8000


def test_the_loudest_is_the_warning() -> None:
    """The more urgent the louder."""
    loud = {level: max(samples_of(PATTERNS[level])) for level in Level}
    assert loud[Level.WARNING] > loud[Level.CAUTION] > loud[Level.ADVISORY]


def test_a_wav_file_holds_the_samples() -> None:
    """Another reader of the format gets back what went in."""
    pattern = (Tone(440, 0.05), Tone(0, 0.01))
    with wave.open(io.BytesIO(wav_of(pattern))) as read:
        assert (read.getnchannels(), read.getsampwidth(), read.getframerate()) == (1, 2, RATE_HZ)
        assert read.readframes(read.getnframes()) == samples_of(pattern).tobytes()


def test_a_tone_has_the_pitch_that_it_says() -> None:
    """It goes up through zero as often as its pitch says."""
    samples = samples_of([Tone(1000, 0.1)])
    rises = sum(a <= 0 < b for a, b in itertools.pairwise(samples))
    assert rises == pytest.approx(100, abs=1)
