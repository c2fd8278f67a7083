"""Tests of bridge.session.threat_error: classes of threat and error management."""

from __future__ import annotations

import pytest

from bridge.session.threat_error import ErrorClass, ThreatErrorClassifier, management_text
from rules.judge.events import Finding
from rules.packs.model import FindingKind, Level
from tests.shipped import shipped_pack


@pytest.fixture(scope="module")
def classifier() -> ThreatErrorClassifier:
    """Make a classifier of the shipped pack."""
    return ThreatErrorClassifier(shipped_pack("twin_jet"))


def _finding(
    item: str,
    kind: FindingKind,
    *,
    lead_s: float | None = None,
    carried: bool = False,
    closed_s: float | None = None,
    waived: bool = False,
    corrected: bool | None = None,
) -> Finding:
    return Finding(
        1,
        kind,
        item,
        "",
        "",
        "",
        "captain",
        Level.CAUTION,
        1.0,
        "",
        "",
        "",
        "",
        lead_s,
        carried,
        closed_s,
        waived=waived,
        corrected=closed_s is not None if corrected is None else corrected,
    )


@pytest.mark.parametrize(
    ("item", "kind", "expected"),
    [
        ("flow.before_taxi.flaps", FindingKind.OMITTED, ErrorClass.PROCEDURAL),
        ("flow.before_taxi.flaps", FindingKind.UNDONE, ErrorClass.PROCEDURAL),
        ("flow.before_taxi.flaps", FindingKind.WRONG_VALUE, ErrorClass.HANDLING),
        ("flow.plausibility.reserves", FindingKind.WRONG_VALUE, ErrorClass.PROCEDURAL),
        ("flow.takeoff_roll.acceleration", FindingKind.LIMIT_EXCEEDED, ErrorClass.UNDESIRED_STATE),
        ("watch.hot_start.1", FindingKind.LIMIT_EXCEEDED, ErrorClass.UNDESIRED_STATE),
        ("flow.before_taxi.flaps", FindingKind.NOT_VERIFIABLE, ErrorClass.NOT_VERIFIABLE),
        ("flow.gone_from_the_pack.item", FindingKind.OMITTED, ErrorClass.PROCEDURAL),
    ],
)
def test_each_kind_of_error_has_its_class(
    classifier: ThreatErrorClassifier, item: str, kind: FindingKind, expected: ErrorClass
) -> None:
    """A finding gets the class that its item and kind have in threat and error management."""
    assert classifier.classify(_finding(item, kind)) is expected


def test_an_event_of_the_aeroplane_is_a_threat(classifier: ThreatErrorClassifier) -> None:
    """What the pack books as an event of the aeroplane is a threat, and no error of the crew."""
    pack = shipped_pack("twin_jet")
    events = [watch for watch in pack.watches if watch.finding is FindingKind.AEROPLANE_EVENT]
    names = {watch.id.split(".")[1] for watch in events}
    assert {"fire_warning", "engine_failure", "alert_master_warning", "alert_stall"} <= names
    assert {classifier.classify(_finding(watch.id, watch.finding)) for watch in events} == {ErrorClass.THREAT}


def test_an_action_before_a_clearance_is_a_communication_error(classifier: ThreatErrorClassifier) -> None:
    """An action before a clearance from outside the crew is a communication error."""
    pack = shipped_pack("twin_jet")
    classes = {
        classifier.classify(_finding(item.id, FindingKind.TOO_EARLY))
        for item in pack.items.values()
        if item.after is not None and "ground" in item.after_text
    }
    assert ErrorClass.COMMUNICATION in classes


@pytest.mark.parametrize(
    ("finding", "expected"),
    [
        (_finding("a", FindingKind.OMITTED, lead_s=9.0, closed_s=5.0), "corrected before the phase began"),
        (_finding("a", FindingKind.OMITTED, closed_s=5.0), "corrected"),
        (_finding("a", FindingKind.OMITTED, closed_s=5.0, corrected=False), "not corrected"),
        (_finding("a", FindingKind.OMITTED, lead_s=1.0, closed_s=5.0, corrected=False), "not corrected"),
        (_finding("a", FindingKind.NOT_VERIFIABLE, closed_s=5.0, corrected=False), "could not be judged"),
        (
            _finding("a", FindingKind.OMITTED, lead_s=9.0, carried=True, closed_s=60.0, corrected=False),
            "carried into the phase, not corrected",
        ),
        (_finding("a", FindingKind.OMITTED), "not corrected"),
        (
            _finding("a", FindingKind.OMITTED, lead_s=9.0, carried=True),
            "carried into the phase, not corrected",
        ),
        (
            _finding("a", FindingKind.OMITTED, lead_s=9.0, carried=True, closed_s=60.0),
            "carried into the phase and corrected there",
        ),
        (_finding("a", FindingKind.OMITTED, lead_s=9.0, closed_s=5.0, waived=True), "waived"),
        (_finding("a", FindingKind.NOT_VERIFIABLE, closed_s=5.0), "could be judged later"),
        (
            _finding("a", FindingKind.NOT_VERIFIABLE, closed_s=5.0, corrected=False, waived=True),
            "could not be judged",
        ),
        (
            _finding("a", FindingKind.OMITTED, lead_s=9.0, carried=True, closed_s=60.0, waived=True),
            "carried into the phase and waived there",
        ),
    ],
)
def test_the_text_says_how_an_error_was_managed(finding: Finding, expected: str) -> None:
    """The text says if and when an error was corrected."""
    assert management_text(finding) == expected
