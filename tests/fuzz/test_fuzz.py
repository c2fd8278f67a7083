"""Tests of every fuzz target on its saved inputs, and on inputs that Hypothesis makes of them."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from adapters.decoders.base import DecodedRecord, Reject
from tests.fuzz.all_targets import TARGETS
from tests.fuzz.corpus import CASES, CORPUS, read_inputs, save_corpus, write_inputs
from tests.fuzz.target import BrokenPromiseError, RunInput
from tests.fuzz.wire_targets import check_decoded

SLOW = {"pack": 20, "device_file": 30, "page": 60, "control_port": 60}
"""Examples of Hypothesis for targets that take more than a millisecond each; 150 for the others."""


@pytest.fixture(scope="module", params=sorted(TARGETS))
def target(request: pytest.FixtureRequest) -> str:
    """The name of a target."""
    name: str = request.param
    return name


@pytest.fixture(scope="module")
def run_input(target: str, tmp_path_factory: pytest.TempPathFactory) -> RunInput:
    """The target, set up."""
    return TARGETS[target].build(tmp_path_factory.mktemp(target))


def test_saved_inputs_keep_every_promise(target: str, run_input: RunInput) -> None:
    """Seeds, the corpus of earlier runs, and each input that once was a defect run without an error."""
    inputs = [*TARGETS[target].seeds(), *read_inputs(CORPUS, target), *read_inputs(CASES, target)]
    assert inputs
    for data in inputs:
        run_input(data)


def test_changed_inputs_keep_every_promise(target: str, run_input: RunInput) -> None:
    """Saved inputs that Hypothesis cuts, joins and damages, and bytes of its own, run without an error."""
    known = [*TARGETS[target].seeds(), *read_inputs(CORPUS, target)]

    @settings(max_examples=SLOW.get(target, 150), deadline=None, suppress_health_check=list(HealthCheck))
    @given(st.data())
    def run(data: st.DataObject) -> None:
        run_input(data.draw(damaged(known)))

    run()


@st.composite
def damaged(draw: st.DrawFn, known: list[bytes]) -> bytes:
    """Make an input of a known one with a piece replaced, or of any bytes."""
    base = draw(st.sampled_from(known) | st.binary(max_size=200))
    other = draw(st.sampled_from(known) | st.binary(max_size=40))
    start = draw(st.integers(0, len(base)))
    end = draw(st.integers(start, min(len(base), start + 60)))
    piece_from = draw(st.integers(0, len(other)))
    return base[:start] + other[piece_from : piece_from + draw(st.integers(0, 60))] + base[end:]


@pytest.mark.parametrize(
    "decoded",
    [DecodedRecord(("a",), []), DecodedRecord(("a",), [float("nan")]), Reject("")],
    ids=["no value", "not finite", "no reason"],
)
def test_a_broken_promise_of_a_decoder_is_a_defect(decoded: DecodedRecord | Reject) -> None:
    """A record without a value for each name, an endless number, and a refusal without a reason are defects."""
    with pytest.raises(BrokenPromiseError):
        check_decoded(decoded)


def test_inputs_are_written_once_and_the_shortest_first(tmp_path: Path) -> None:
    """What is read is what was written, without repetitions."""
    write_inputs(tmp_path, "any", [b"long\n\xff\0", b"", b"b", b"b"])
    assert read_inputs(tmp_path, "any") == [b"", b"b", b"long\n\xff\0"]
    assert read_inputs(tmp_path, "another") == []


def test_the_corpus_stays_small(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Large inputs are not saved, and of many the shortest."""
    monkeypatch.setattr("tests.fuzz.corpus.CORPUS", tmp_path)
    save_corpus("any", [bytes([n % 256]) * (n + 1) for n in range(300)] + [b"x" * 5000])
    saved = read_inputs(tmp_path, "any")
    assert len(saved) == 150
    assert max(map(len, saved)) == 150
