"""Tests of PackCache: files are read once, equal packs are shared, and a pack is the same as when it is loaded alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from rules.faults import InputFaults
from rules.packs.load_pack import PackCache, load_pack
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet, load_trip_sheet
from tests.rules.packs.sample_packs import COMPLETE_PACK

NOTHING = TripSheet("Lindmere 417", {"trip.v1": 128.0})
OTHER_VALUES = TripSheet("Lindmere 418", {"trip.v1": 131.0})
NO_PUMP = TripSheet("Lindmere 419", {}, ("fuel.pump",))


def without_functions(pack: Pack) -> Pack:
    """Give the pack without the functions of its figures, which are made anew at each loading."""
    return replace(pack, figures=tuple(replace(figure, function=min) for figure in pack.figures))


def test_a_cached_pack_is_the_same_as_one_loaded_alone(tmp_path: Path) -> None:
    """Building for one trip sheet leaves the files as they are for the next."""
    (tmp_path / "pack.yaml").write_text(COMPLETE_PACK, encoding="utf-8")
    cache = PackCache()
    for trip in (NOTHING, NO_PUMP, NOTHING, NO_PUMP):
        cached = cache.load(str(tmp_path), trip=trip)
        assert without_functions(cached) == without_functions(load_pack(str(tmp_path), trip=trip))


def test_devices_share_a_pack_unless_other_things_are_inoperative(tmp_path: Path) -> None:
    """Titles and values of the trip sheet do not matter, what is dispatched inoperative does."""
    (tmp_path / "pack.yaml").write_text(COMPLETE_PACK, encoding="utf-8")
    cache = PackCache()
    pack = cache.load(str(tmp_path), trip=NOTHING)
    assert cache.load(str(tmp_path), trip=OTHER_VALUES) is pack
    assert cache.load(str(tmp_path)) is pack
    assert cache.load(str(tmp_path), trip=NO_PUMP).source_digest != pack.source_digest


def test_files_are_read_once(tmp_path: Path) -> None:
    """All devices of one start get the same rules, even where a file changes between them."""
    file = tmp_path / "pack.yaml"
    file.write_text(COMPLETE_PACK, encoding="utf-8")
    cache = PackCache()
    title = cache.load(str(tmp_path), trip=NOTHING).title
    file.write_text("pack: {", encoding="utf-8")
    assert cache.load(str(tmp_path), trip=NO_PUMP).title == title
    with pytest.raises(InputFaults):
        load_pack(str(tmp_path))


def test_a_faulty_pack_has_the_same_faults_each_time(tmp_path: Path) -> None:
    """The faults of a pack do not change or add up when it is asked for again."""
    (tmp_path / "pack.yaml").write_text(COMPLETE_PACK.replace("phase: ", "phase: x_"), encoding="utf-8")
    cache, found = PackCache(), []
    for trip in (NOTHING, NO_PUMP, NOTHING):
        with pytest.raises(InputFaults) as caught:
            cache.load(str(tmp_path), trip=trip)
        found.append([fault for fault in caught.value.faults if fault.place.file != "trip sheet"])
    with pytest.raises(InputFaults) as caught:
        load_pack(str(tmp_path), trip=NOTHING)
    assert found[0] == found[1] == found[2] == list(caught.value.faults)
    assert len(found[0]) > 1


@pytest.mark.parametrize(
    ("line", "what", "column"),
    [
        ("calls: [atc, captian]", "unknown speaker of calls captian", 16),
        ("inoperative: [lights.becon]", "lights.becon is dispatched inoperative", 17),
    ],
)
def test_a_word_of_the_sheet_that_the_pack_does_not_have_is_told_at_its_place(
    tmp_path: Path, line: str, what: str, column: int
) -> None:
    """What only the pack can refuse is told with the sheet's file, line and column, and a hint."""
    sheet = tmp_path / "sheet.yaml"
    sheet.write_text(f"trip:\n  title: Lindmere 417\n  {line}\n", encoding="utf-8")
    with pytest.raises(InputFaults) as raised:
        load_pack("twin_jet", trip=load_trip_sheet(sheet))
    (fault,) = raised.value.faults
    assert (fault.place.file, fault.place.line, fault.place.column) == (str(sheet), 3, column)
    assert fault.what.startswith(what)
    assert fault.hint.startswith("did you mean")
