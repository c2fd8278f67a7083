"""Property tests of the one rule for texts from outside: no control or bidirectional character passes any edge."""

from __future__ import annotations

import json
import sys
import unicodedata
from collections.abc import Mapping

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.factory import receiver_for
from bridge.recording.clean_body import clean_body
from bridge.session.requests import MAX_NAME_LENGTH, MAX_REASON_LENGTH, Request, checked_texts
from rules.faults import Fault, InputFaults, Place
from rules.packs.model import Pack
from rules.signals.book import load_book
from rules.source import parse_source
from rules.words import is_printable, printable, printable_line
from tests.bridge.page.page_builders import FlownDevice, page_pack

FORBIDDEN = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")
"""Categories of Unicode (UAX 44) of which nothing is shown: control, format, surrogate, private, unassigned, separators."""
SIGNALS = load_book("twin_jet").signals

forbidden = st.characters(categories=("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"))
any_text = st.text(st.one_of(st.characters(), forbidden), max_size=30)


def forbidden_in(text: str, keep: str = "") -> list[str]:
    """The characters of a text that must not be shown."""
    return [c for c in text if unicodedata.category(c) in FORBIDDEN and c not in keep]


def test_the_rule_agrees_with_unicode() -> None:
    """Of every character there is, exactly those of the forbidden categories are refused."""
    wrong = [
        code
        for code in range(sys.maxunicode + 1)
        if is_printable(chr(code)) == (unicodedata.category(chr(code)) in FORBIDDEN)
    ]
    assert wrong == []


@given(any_text)
def test_a_text_keeps_its_length_and_what_may_be_shown(text: str) -> None:
    """Each forbidden character becomes one other, and nothing else changes; twice is as once."""
    cleaned = printable(text)
    assert len(cleaned) == len(text)
    assert forbidden_in(cleaned) == []
    assert all(a == b for a, b in zip(text, cleaned, strict=True) if not forbidden_in(a))
    assert printable(cleaned) == cleaned


@given(any_text)
def test_a_line_is_one_line(text: str) -> None:
    """A typed text has no forbidden character, no second space, and no space at its ends."""
    line = printable_line(text)
    assert forbidden_in(line) == []
    assert line == " ".join(line.split())


@given(any_text, any_text, any_text)
def test_a_fault_shows_no_forbidden_character(what: str, line: str, hint: str) -> None:
    """Whatever a file has in the line with the mistake, the terminal gets none of it."""
    assert forbidden_in(str(Fault(Place("f", 1, 1, line), what, what, hint)), "\n") == []


@given(forbidden.filter(lambda c: c not in "\n\t" and not "\ud800" <= c <= "\udfff"))
def test_a_file_with_such_a_character_is_refused(character: str) -> None:
    """A pack, a trip sheet or a map cannot have one, neither as it is nor as an escape in quotes."""
    escape = f"\\U{ord(character):08x}"
    with pytest.raises(InputFaults, match="is not allowed"):
        parse_source(f'title: "a{escape}b"\n', "pack.yaml")
    with pytest.raises(InputFaults):
        parse_source(f"title: a{character}b\n", "pack.yaml")


def test_usual_texts_are_accepted() -> None:
    """Letters of any script, no-break spaces, symbols, pairs of surrogates in JSON, and lines are texts as others."""
    source = parse_source('{"title": "Höhe 12\\u00a0ft, 高度, \\ud83d\\ude00", "why": "a\\nb"}', "trip.json")
    assert source.data == {"title": "Höhe 12\N{NO-BREAK SPACE}ft, 高度, 😀", "why": "a\nb"}


@given(forbidden)
def test_a_signal_has_no_such_text(character: str) -> None:
    """A text signal with one is invalid, and no counter, example or name of a field shows it."""
    receiver = receiver_for(SIGNALS, format_name="json")
    fields = {"time": 1.0, "management.runway": f"0{character}", f"un{character}known": 1}
    (frame,) = receiver.receive(json.dumps(fields).encode("utf-8"), 0.0) or (None,)
    health = receiver.health
    if frame is not None:
        assert [sample.value for sample in frame.changes if sample.name == "management.runway"] == [None]
    assert forbidden_in(str(health.as_dict())) == []
    assert forbidden_in(health.status_text(0.0)) == []


@given(any_text)
def test_a_refused_record_shows_no_such_text(text: str) -> None:
    """The excerpt, the detail and the hint of a refusal are clean in every format."""
    for form in ("json", "key_value", "labelled_csv", "msgpack"):
        receiver = receiver_for(SIGNALS, format_name=form)
        for data in (f'{text}=1 {text}="2"', f"<LABELS> ,{text},{text},b", f'{{"{text}": {text}'):
            receiver.receive(data.encode("utf-8", "surrogatepass"), 0.0)
        assert forbidden_in(str(receiver.health.as_dict())) == []
        assert all(forbidden_in(str(reject)) == [] for reject in receiver.health.examples.values())


@given(any_text, any_text)
def test_a_request_is_cleaned(name: str, reason: str) -> None:
    """All texts of a request are lines of limited length, but a trip sheet keeps its lines and is read as a file."""
    request = checked_texts(Request("remark", name, name, reason, name))
    assert forbidden_in(request.name + request.by + request.reason + request.device) == []
    assert checked_texts(Request("amend", "f", "", reason)).reason == reason


@pytest.mark.parametrize(
    ("fields", "what"),
    [
        ({"name": "x" * (MAX_NAME_LENGTH + 1)}, "name has 201"),
        ({"by": "x" * 50_000}, "by has 50000"),
        ({"device": "x" * (MAX_NAME_LENGTH + 1)}, "device has 201"),
        ({"reason": "x" * (MAX_REASON_LENGTH + 1)}, "reason has 1001"),
    ],
)
def test_texts_of_a_request_have_a_length(fields: Mapping[str, str], what: str) -> None:
    """A longer text is refused, with its length and the limit."""
    with pytest.raises(InputFaults, match=what):
        checked_texts(Request("pause", **{"name": "", **fields}))


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """A pack with a device that can be asked."""
    return page_pack(tmp_path_factory.mktemp("printable"))


def test_a_device_cleans_what_it_is_asked(pack: Pack) -> None:
    """The control port and the page both ask a device, which lets nothing else in; a refusal repeats nothing unclean."""
    flown, clear = FlownDevice(pack), "\x1b[2J\x1b]0;x\x07\u202e"
    flown.ask("remark", reason=f"seen{clear}", by="captain")
    flown.ask("pause", reason=f"break{clear}")
    replies = [flown.ask("call", clear), flown.ask("remark", reason="x", by=clear)]
    texts = [entry.text for entry in flown.device.timeline.entries] + [reply.text for reply in replies]
    assert any("seen" in text for text in texts)
    assert [forbidden_in(text, "\n") for text in texts] == [[]] * len(texts)


@given(st.dictionaries(any_text, any_text, max_size=4))
def test_a_recording_of_a_stranger_is_cleaned(fields: dict[str, str]) -> None:
    """No text in a message keeps one, however it is escaped; a message without one keeps its bytes."""
    body = json.dumps(fields).encode()
    cleaned = clean_body(body)
    for text in (cleaned.decode(), *msgspec.json.decode(cleaned)):
        assert forbidden_in(text, "\n\r\t") == []
    plain = msgspec.json.encode({"sentence": "Höhe 5 ft — needs 1 000"})
    assert clean_body(plain) is plain


@pytest.mark.parametrize("text", ["", "{", '{"a": 1', "\x00"])
def test_a_message_that_is_no_json_stays(text: str) -> None:
    """It is refused where it is decoded."""
    assert clean_body(text.encode()) == text.encode()
