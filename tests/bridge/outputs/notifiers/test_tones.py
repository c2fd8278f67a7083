"""Tests of bridge.outputs.notifiers.tones: three sounds with different rhythms, without clicks."""

from __future__ import annotations

import itertools

import pytest

from bridge.outputs.notifiers.tones import PATTERNS, RATE_HZ, Tone, samples_of
from rules.packs.model import Level


def rhythm(level: Level) -> list[float]:
    """The lengths of the tones of a pattern, without pauses."""
    parts_of_pattern = [(tone.pitch_hz > 0, tone.length_s) for tone in PATTERNS[level]]
    groups = itertools.groupby(parts_of_pattern, key=lambda part: part[0])
    return [length_s for sounds, parts in groups if sounds for _, length_s in parts]


def test_levels_differ_by_rhythm() -> None:
    """A warning is nine pulses in three groups, a caution two tones of two lengths, an advisory one tone."""
    assert {level: len(rhythm(level)) for level in Level} == {
        Level.WARNING: 9, Level.CAUTION: 2, Level.ADVISORY: 1,
    }  # fmt: skip
    assert len(set(rhythm(Level.CAUTION))) == 2
    once = PATTERNS[Level.WARNING][: len(PATTERNS[Level.WARNING]) // 3]
    assert once * 3 == PATTERNS[Level.WARNING]


@pytest.mark.parametrize("level", list(Level))
def test_a_sound_is_short_not_clipped_and_begins_and_ends_in_silence(level: Level) -> None:
    """A sound has at most three seconds, no step at either end, and no clipped sample."""
    samples = samples_of(PATTERNS[level])
    assert len(samples) == sum(round(tone.length_s * RATE_HZ) for tone in PATTERNS[level])
    assert len(samples) <= 3 * RATE_HZ
    assert samples[0] == 0
    assert max(abs(sample) for sample in samples[-4:]) < 700
    assert 8000 < max(samples) < 32767 * 0.75
    assert max(abs(b - a) for a, b in itertools.pairwise(samples)) < 8000


def test_a_more_urgent_sound_is_louder() -> None:
    """A warning is louder than a caution, and a caution louder than an advisory."""
    loud = {level: max(samples_of(PATTERNS[level])) for level in Level}
    assert loud[Level.WARNING] > loud[Level.CAUTION] > loud[Level.ADVISORY]


def test_a_tone_has_its_pitch() -> None:
    """The number of rising zero crossings matches the pitch."""
    samples = samples_of([Tone(1000, 0.1)])
    rises = sum(a <= 0 < b for a, b in itertools.pairwise(samples))
    assert rises == pytest.approx(100, abs=1)
