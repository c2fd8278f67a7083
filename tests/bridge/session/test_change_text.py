"""Tests of bridge.session.change_text: texts of changes, and their columns, which are read back."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.session.change_text import change_columns, change_from_columns, change_text
from bridge.session.session_events import (
    CHANGE_KINDS,
    CourseChanged,
    RecordingResumed,
    RecordingStopped,
    SeatAssigned,
    SessionChange,
    SessionPaused,
    StoreReachable,
    VoiceMuted,
)

SEATS = {"captain": "Captain"}


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (SeatAssigned(1.0, 2.0, "captain", "Heron"), "seat assigned: Captain: Heron"),
        (SeatAssigned(1.0, 2.0, "captain", None), "seat assigned: Captain: nobody"),
        (SeatAssigned(1.0, 2.0, "observer", "Heron"), "seat assigned: observer: Heron"),
        (CourseChanged(1.0, 2.0, "none"), "course: none"),
        (CourseChanged(1.0, 2.0, ""), "no course"),
        (SessionPaused(1.0, 2.0), "paused"),
        (SessionPaused(1.0, 2.0, "a break"), "paused: a break"),
        (VoiceMuted(1.0, 2.0), "muted"),
        (RecordingStopped(1.0, 2.0, "no room"), "recording stopped: no room"),
        (RecordingResumed(1.0, 2.0), "recording resumed"),
        (StoreReachable(1.0, 2.0), "store reachable"),
    ],
)
def test_the_text_of_a_change(change: SessionChange, expected: str) -> None:
    """The text has the title of the seat and the values of the fields."""
    assert change_text(change, SEATS) == expected


@given(st.data(), st.sampled_from(list(CHANGE_KINDS)))
def test_columns_are_read_back(data: st.DataObject, kind: type[SessionChange]) -> None:
    """Every change of every kind is read back from its columns unchanged."""
    texts = st.text(min_size=1)
    fields = {
        field.name: data.draw(
            st.none() | texts if field.name == "person" else texts | st.just("none") | st.just(""),
            label=field.name,
        )
        for field in msgspec.structs.fields(kind)
        if field.name not in ("sim_s", "utc")
    }
    change = kind(1.0, 2.0, **fields)
    assert change_text(change, SEATS)
    assert change_from_columns(change_columns(change), 1.0, 2.0) == change
