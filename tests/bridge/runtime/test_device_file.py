"""Tests of bridge.runtime.device_file: the devices of a file, and all its faults at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.runtime.device_file import load_devices
from rules.faults import InputFaults
from tests.bridge.builders import write_pack


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder with a pack and a trip sheet."""
    write_pack(tmp_path / "small")
    (tmp_path / "trip.yaml").write_text("trip: {title: Lindmere 417}\n", encoding="utf-8")
    return tmp_path


def devices(folder: Path, text: str) -> Path:
    """Write a file of devices."""
    file = folder / "devices.yaml"
    file.write_text(text, encoding="utf-8")
    return file


def faults(folder: Path, text: str) -> str:
    """Return the faults of such a file."""
    with pytest.raises(InputFaults) as caught:
        load_devices(devices(folder, text))
    return str(caught.value)


def test_devices_are_built_in_the_order_of_the_file(folder: Path) -> None:
    """Names, titles, links and packs come from the file; the default title is the pack's."""
    loaded = load_devices(
        devices(
            folder,
            """
devices:
  bay_2: {title: Bay 2, pack: small, trip: trip.yaml, link: "udp://127.0.0.1:5140"}
  bay_1: {pack: small, trip: trip.yaml, link: "udp://127.0.0.1:5139", format: json}
""",
        )
    )
    assert [(device.id, device.title, device.source.address) for device in loaded] == [
        ("bay_2", "Bay 2", "udp://127.0.0.1:5140"),
        ("bay_1", "Small jet", "udp://127.0.0.1:5139"),
    ]
    assert loaded[0].session is not loaded[1].session


def test_devices_with_the_same_pack_share_it(folder: Path) -> None:
    """A pack is loaded once, however many devices use it."""
    one, two = load_devices(
        devices(
            folder,
            """
devices:
  bay_1: {pack: small, trip: trip.yaml, link: "udp://127.0.0.1:5139"}
  bay_2: {pack: small, trip: trip.yaml, link: "udp://127.0.0.1:5140"}
""",
        )
    )
    assert one.pack is two.pack


def test_faults_of_a_shared_pack_are_reported_once(folder: Path) -> None:
    """Two devices with the same broken pack do not report its faults twice."""
    (folder / "small" / "pack.yaml").write_text("pack: {id: small, colour: red}\n", encoding="utf-8")
    text = faults(
        folder,
        """devices:
  a: {pack: small, trip: trip.yaml, link: "udp://127.0.0.1:5139"}
  b: {pack: small, trip: trip.yaml, link: "udp://127.0.0.1:5140"}
""",
    )
    assert text.count("unknown key colour") == 1


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("devices: {}\n", "devices"),
        ("machines: {}\n", "machines"),
        ('devices: {a: {pack: small, trip: trip.yaml, link: "udp://127.0.0.1:1", colour: red}}\n', "colour"),
        ("devices: {a: {pack: small, trip: trip.yaml}}\n", "link"),
        ('devices: {a: {pack: 3, trip: trip.yaml, link: "udp://127.0.0.1:1"}}\n', "pack"),
        (
            'devices: {Bay-1: {pack: small, trip: trip.yaml, link: "udp://127.0.0.1:1"}}\n',
            "Bay-1 cannot be the id of a device",
        ),
        (
            'devices: {static: {pack: small, trip: trip.yaml, link: "udp://127.0.0.1:1"}}\n',
            "static is a word of the page's own addresses",
        ),
        (
            f'devices: {{{"a" * 41}: {{pack: small, trip: trip.yaml, link: "udp://127.0.0.1:1"}}}}\n',
            "up to 39 lower-case letters",
        ),
        (
            'devices: {a: {pack: small, trip: trip.yaml, link: "udp://127.0.0.1:1", titel: Bay 1}}\n',
            "did you mean title?",
        ),
        ('devices: {a: {pack: small, trip: trip.yaml, link: "ftp://127.0.0.1:1"}}\n', "expected udp://"),
        ('devices: {a: {pack: small, trip: none.yaml, link: "udp://127.0.0.1:1"}}\n', "none.yaml"),
        ('devices: {a: {pack: smal, trip: trip.yaml, link: "udp://127.0.0.1:1"}}\n', "smal"),
        (
            'devices: {a: {pack: small, trip: trip.yaml, link: "udp://127.0.0.1:1", format: jason}}\n',
            "unknown format jason",
        ),
        ('devices: {a: {pack: small, trip: trip.yaml, link: "udp://127.0.0.1:1", map: none.yaml}}\n', "none"),
    ],
)
def test_each_fault_is_reported(folder: Path, text: str, expected: str) -> None:
    """A fault of the file, or of a file that it names, is reported by name."""
    assert expected in faults(folder, text)


def test_two_devices_cannot_share_a_link(folder: Path) -> None:
    """The second use of a link is refused with its place and the first device."""
    text = faults(
        folder,
        """devices:
  a: {pack: small, trip: trip.yaml, link: "udp://127.0.0.1:5139"}
  b: {pack: small, trip: trip.yaml, link: "udp://127.0.0.1:5139"}
""",
    )
    assert "udp://127.0.0.1:5139 is already the link of a" in text
    assert "devices.yaml:3:" in text


def test_all_faults_are_reported_at_once(folder: Path) -> None:
    """One bad device does not hide the faults of the next."""
    text = faults(
        folder,
        """devices:
  a: {pack: smal, trip: trip.yaml, link: "udp://127.0.0.1:1"}
  b: {pack: small, trip: none.yaml, link: "udp://127.0.0.1:2"}
  C: {pack: small, trip: trip.yaml, link: "zmq://nowhere"}
""",
    )
    for expected in ("smal", "none.yaml", "C cannot be the id of a device", "link"):
        assert expected in text


def test_a_missing_file_is_a_fault(tmp_path: Path) -> None:
    """A missing file is reported as a fault."""
    with pytest.raises(InputFaults):
        load_devices(tmp_path / "devices.yaml")
