"""The invented aeroplanes have words of their own: no file of the project has a retired one.

A retired word belongs to the panel of one maker, or is a real name.  Real names are stored as digests, so that the list
does not contain them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path
from types import MappingProxyType

import pytest
from ruamel.yaml import YAML

from rules.packs.load_pack import SHIPPED_DIR
from rules.signals.book import load_books

ROOT = Path(__file__).parents[3]
LEFT_OUT = frozenset({
    Path(__file__).resolve(),
    ROOT / "mock_sim" / "jsbsim_models.yaml",  # folder names of a library, which it needs to find its models
})  # fmt: skip
FOLDERS = ("adapters", "bridge", "mock_sim", "rules", "tests")
KINDS = {".yaml", ".py", ".html", ".js", ".css", ".json", ".md"}
LETTER_NAMES = r"[A-Za-z0-9_]"

PANEL = "a label of one maker's panel"
DOORS = "the doors of one maker's aeroplane, by its words"
LEVER = "a flap detent of one maker's lever"
WORDS = MappingProxyType({
    "alert.recall": PANEL,
    "alert.inhibited_count": "stored is the word for a caution that is not shown",
    "caution recall": PANEL,
    "electrical.standby_power": PANEL,
    "electrical.bus.standby": PANEL,
    "standby power": PANEL,
    "standby_power": PANEL,
    "air.equipment_cooling": PANEL,
    "equipment cooling": PANEL,
    "equipment_cooling": PANEL,
    "cabin.flight_altitude": "one maker's pressurisation panel has two dials; ours has the arrival elevation",
    "cabin.landing_elevation": "the signal is the arrival elevation",
    "electrical.drive": PANEL,
    "generator drive": PANEL,
    "controls.trim_cutout": PANEL,
    "trim_cutout": PANEL,
    "trim cut-out": PANEL,
    "controls.flap.alternate": PANEL,
    "alternate flaps": PANEL,
    "controls.power": PANEL,
    "fire.bottle.left": PANEL,
    "fire.bottle.right": PANEL,
    "emergency.lights": PANEL,
    "door.forward_entry": DOORS,
    "door.aft_entry": DOORS,
    "door.forward_service": DOORS,
    "door.aft_service": DOORS,
    "door.forward_cargo": DOORS,
    "door.aft_cargo": DOORS,
    "door.equipment": DOORS,
    "forward_entry": DOORS,
    "aft_entry": DOORS,
    "forward_service": DOORS,
    "aft_service": DOORS,
    "forward_cargo": DOORS,
    "aft_cargo": DOORS,
    "aft cargo door": DOORS,
    "forward cargo door": DOORS,
    "equipment door": DOORS,
    "airstairs": DOORS,
    "ice.probe": PANEL,
    "ice.window": PANEL,
    "probe heat": PANEL,
    "probe_heat": PANEL,
    "window heat": PANEL,
    "window_heat": PANEL,
    "bleed.isolation": PANEL,
    "isolation valve": PANEL,
    "rto": "one maker's word for the autobrake of a rejected take-off",
    "flap_2_speed": LEVER,
    "flap_5_speed": LEVER,
    "flap_10_speed": LEVER,
    "flap_15_speed": LEVER,
    "flap_25_speed": LEVER,
    "flap_30_speed": LEVER,
    "flap_40_speed": LEVER,
    "453 kg": "a round number of another unit, in use with one maker",
})  # fmt: skip

POSITIONS = MappingProxyType({
    "gear.lever": {"off"},
    "gear.autobrake": {"rto", "1", "2", "3", "max"},
    "controls.speedbrake.lever": {"down", "flight", "up"},
    "controls.trim_isolate": {"cutout"},
    "controls.flap.standby_drive": {"armed"},
    "engine.1.fuel_lever": {"run", "cutoff"},
    "engine.1.start_switch": {"ground", "auto", "continuous", "flight"},
    "autoflight.thrust_mode": {"hold"},
    "air.pack.left.switch": {"auto", "high"},
    "air.bay_cooling": {"alternate"},
    "bleed.cross_bleed": {"auto"},
    "electrical.essential_power": {"auto"},
    "electrical.coupling.1": {"connected", "disconnected"},
})  # fmt: skip
"""Positions that the switch of one maker has, for each of our own switches."""

NAMES = MappingProxyType(
    {
        "762070c61b44e276": "a place",
        "a5c49775b0a68d9f": "a place",
        "141256c5c1405ee3": "a place",
        "c56ffc45dd4b5cbb": "a place",
        "dfda7d5397605b70": "a place",
        "c55ec4bbe9c7c161": "a place",
        "8e016391c88c77d6": "a place",
        "eaada1689c188403": "a place",
        "f21db243e3a0464a": "a place",
        "997deceae6dd3a8b": "a place",
        "de3c497679202513": "a place",
        "616d117d4093301c": "a place",
        "a17e3cbfcd88e795": "a place",
        "70f756d0618a1ff2": "a person",
        "cb00fa467ed12333": "an airline",
        "16b4ceef84eec6d6": "an airline",
        "fa1fb7a34e391c97": "an airline",
        "8544e4aa827403b1": "an airline",
        "ba2436bd25a09dd5": "an airline",
        "7ce3b7e784772b32": "an airline",
        "9bb429c55587dca3": "an airline",
        "48582bd628b7c800": "an airline",
        "16f45b99abfda636": "a maker",
        "36aa04f4333ebc94": "a maker",
        "2bc204093280be71": "a maker",
        "d418045cea8cd360": "a maker",
        "e15111c1fd75d9f5": "a maker",
        "aa9e189f99f9ef43": "a maker",
        "5b0b8eca3739535d": "a type",
        "91c2873519cabfe9": "a type",
        "ae374da2fd633e19": "a type",
    }
)
"""The beginning of the SHA-256 of a real name in small letters, and what it names."""

LIMITS = MappingProxyType({
    "gear_extension": 270, "gear_retraction": 235, "vmo": 340, "mmo": 0.82,
    "takeoff_egt": 930, "continuous_egt": 900, "fuel_imbalance": 453, "fuel_cold": -37,
})  # fmt: skip
"""Numbers that stand together in one maker's book."""


def digest(name: str) -> str:
    """Digest of a real name."""
    return sha256(name.casefold().encode()).hexdigest()[:16]


def files() -> Iterator[Path]:
    """Every text file of the project."""
    yield from ROOT.glob("*.md")
    for folder in FOLDERS:
        for path in sorted((ROOT / folder).rglob("*")):
            if path.suffix in KINDS and path not in LEFT_OUT:
                yield path


@pytest.fixture(scope="module")
def texts() -> dict[str, str]:
    """Texts by their paths in the project."""
    return {str(path.relative_to(ROOT)): path.read_text("utf-8") for path in files()}


def whole_word(word: str) -> re.Pattern[str]:
    """Pattern for the word by itself, not as a part of a longer one."""
    return re.compile(rf"(?<!{LETTER_NAMES}){re.escape(word)}(?!{LETTER_NAMES})", re.IGNORECASE)


def found(word: str, texts: dict[str, str]) -> list[str]:
    """Paths of the texts that contain a word."""
    exact = whole_word(word)
    return [place for place, text in texts.items() if exact.search(text)]


@pytest.mark.parametrize("word", WORDS)
def test_no_text_has_a_retired_word(word: str, texts: dict[str, str]) -> None:
    """No book, pack, code, test or scenario has a retired word."""
    assert found(word, texts) == [], WORDS[word]


def test_no_text_has_a_real_name(texts: dict[str, str]) -> None:
    """An accident is cited by its report; airlines, places, people and makers stay out."""
    places = {
        (NAMES[digest(word)], place)
        for place, text in texts.items()
        for word in {word.casefold() for word in re.findall(r"[^\W_]+", text)}
        if digest(word) in NAMES
    }
    assert places == set()


def test_a_word_is_found_by_itself_only() -> None:
    """The search finds whole words only."""
    assert found("rto", {"a": "autobrake RTO.", "b": "airport, cartoon", "c": "rto_1", "d": "x.rto"}) == [
        "a",
        "d",
    ]
    assert digest("Name") == digest("name") != digest("names")


@pytest.mark.parametrize("name", POSITIONS)
def test_no_switch_has_a_retired_position(name: str) -> None:
    """The positions of our switches are words of our own."""
    signal = load_books(["twin_jet"])[name]
    assert POSITIONS[name] & set(signal.words) == set()


def test_no_limit_has_a_retired_number() -> None:
    """The numbers of the invented type are not those of a real one."""
    limits = YAML(typ="safe").load(SHIPPED_DIR / "twin_jet" / "pack.yaml")["limits"]
    stands = {name: float(str(limits[name]["value"]).split()[0]) for name in LIMITS}
    assert {name for name, value in LIMITS.items() if stands[name] == value} == set()
