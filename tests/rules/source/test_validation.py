"""Errors of pydantic as plain faults, each at its key or value."""

from __future__ import annotations

from typing import Annotated, Literal

import pytest
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from rules.signals.model import SignalKind
from rules.source import faults_of, parse_source, validation_error
from rules.source.validation import MAX_FAULTS


def _even(value: object) -> object:
    """Validator of our own."""
    if value == 1:
        raise validation_error("1 is odd", "an even number", "try 2")
    return value


class _Inner(BaseModel):
    """A model inside a model."""

    model_config = ConfigDict(extra="forbid", strict=True)
    label: str
    level: Literal["advisory", "caution"] = "advisory"


class _Outer(BaseModel):
    """A model for every kind of mistake."""

    model_config = ConfigDict(extra="forbid", strict=True)
    title: str
    name: Annotated[str, Field(pattern="^[a-z][a-z0-9_]*$")] = "a"
    count: Annotated[int, Field(ge=0, le=9)] = 0
    share: float = 0.0
    flag: bool = False
    kind: Annotated[SignalKind, Field(strict=False)] = SignalKind.SWITCH
    even: Annotated[int, BeforeValidator(_even)] = 2
    many: Annotated[list[str], Field(min_length=1)] = ["a"]
    inner: dict[str, _Inner] = {}


def _printed_faults(text: str) -> list[str]:
    """Faults of a text by the outer model, as head line and hint."""
    source = parse_source(text, "t.yaml")
    with pytest.raises(ValidationError) as caught:
        _Outer.model_validate(source.data)
    faults = faults_of(caught.value, source, (), _Outer)
    return [
        " | ".join(part.strip() for part in str(fault).splitlines() if "t.yaml" in part or "hint" in part)
        for fault in faults
    ]


@pytest.mark.parametrize(
    ("text", "printed"),
    [
        ("name: a", "t.yaml:1:1: title is missing, expected the key title"),
        ("title: 1.0", "t.yaml:1:8: 1.0, expected text (put it in quotes)"),
        ("title:", "t.yaml:1:7: missing value, expected text (put it in quotes)"),
        ("title: [a]", "t.yaml:1:8: a list, expected text (put it in quotes)"),
        ("{title: a, titel: b}", "t.yaml:1:12: unknown key titel | hint: did you mean title?"),
        (
            "{title: a, zzz: b}",
            "t.yaml:1:12: unknown key zzz, expected count, even, flag, inner, kind, many, name, share or title",
        ),
        ("{title: a, name: No}", "t.yaml:1:18: 'No', expected a word of small letters, digits and _"),
        ("{title: a, count: -1}", "t.yaml:1:19: -1 is out of range, expected 0 or more"),
        ("{title: a, count: 10}", "t.yaml:1:19: 10 is out of range, expected 9 or less"),
        ("{title: a, count: 1.5}", "t.yaml:1:19: 1.5, expected a whole number"),
        ("{title: a, count: off}", "t.yaml:1:19: 'off', expected a whole number"),
        ("{title: a, share: true}", "t.yaml:1:19: true, expected a number"),
        ("{title: a, flag: on}", "t.yaml:1:18: 'on', expected true or false"),
        (
            "{title: a, kind: knob}",
            "t.yaml:1:18: 'knob', expected switch, choice, quantity, angle, text or count",
        ),
        ("{title: a, even: 1}", "t.yaml:1:18: 1 is odd, expected an even number | hint: try 2"),
        ("{title: a, many: []}", "t.yaml:1:18: a list, expected at least one entry"),
        ("{title: a, many: b}", "t.yaml:1:18: 'b', expected a list"),
        ("{title: a, many: [b, 3]}", "t.yaml:1:22: 3, expected text (put it in quotes)"),
        ("{title: a, inner: [b]}", "t.yaml:1:19: a list, expected a mapping of keys to values"),
        ("{title: a, inner: {x: 1}}", "t.yaml:1:23: 1, expected a mapping of keys to values"),
        ("{title: a, inner: {7: {label: b}}}", "t.yaml:1:20: 7, expected text (put it in quotes)"),
        (
            "{title: a, inner: {x: {label: b, lable: c}}}",
            "t.yaml:1:34: unknown key lable | hint: did you mean label?",
        ),
        (
            "{title: a, inner: {x: {label: b, level: high}}}",
            "t.yaml:1:41: 'high', expected advisory or caution",
        ),
        ("{title: a, inner: {x: {level: caution}}}", "t.yaml:1:20: label is missing, expected the key label"),
    ],
)
def test_plain_faults(text: str, printed: str) -> None:
    """Each kind of mistake has a plain fault at its key or value."""
    assert _printed_faults(text) == [printed]


def test_every_error_in_the_order_of_the_file() -> None:
    """All errors are reported, from top to bottom."""
    printed = _printed_faults("count: -1\nshare: x\nflag: 1\nmore: 2\n")
    assert [line.split(": ")[0] for line in printed] == [
        "t.yaml:1:1",
        "t.yaml:1:8",
        "t.yaml:2:8",
        "t.yaml:3:7",
        "t.yaml:4:1",
    ]


def test_only_so_many_faults_are_listed() -> None:
    """A file with thousands of mistakes gives the first ones, and how many more there are."""
    text = "title: a\n" + "\n".join(f"zzz{number}: 1" for number in range(MAX_FAULTS + 25))
    printed = _printed_faults(text)
    assert len(printed) == MAX_FAULTS + 1
    assert "25 more faults, which are not listed" in printed[-1]
