"""Reads a device file, which lists the simulators that one watch follows, and builds a device for each.

    devices:
      bay_1: {title: Bay 1, pack: twin_jet, trip: flight_1.yaml, link: "udp://127.0.0.1:5139", map: bay.yaml}
      bay_2: {title: Bay 2, pack: twin_jet, trip: flight_2.yaml, link: "udp://127.0.0.1:5140"}

Paths are relative to the device file.

Takes: the file.  Gives: a `Device` for each entry, or every fault of the file.
"""

from __future__ import annotations

import re
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from adapters.mapping.load_map import load_map
from bridge.runtime.device import Device, build_device
from bridge.session.input_signals import input_signals
from rules.faults import Fault, InputFaults, LinkError
from rules.packs.load_pack import PackCache
from rules.packs.trip_sheet import load_trip_sheet
from rules.source import SourceDocument, faults_of, read_source

DEVICE_ID = re.compile(r"[a-z][a-z0-9_]{0,39}")
"""Ids of devices; they become parts of addresses of pages, of topics and of keys of messages."""
RESERVED_IDS = ("static",)


class DeviceForm(BaseModel):
    """One device in the file."""

    model_config = ConfigDict(extra="forbid", strict=True)

    title: str = Field(
        default="", description="Name of the device on screens; the title of the pack if not given."
    )
    pack: str = Field(
        description="The pack: a folder beside the device file, or the name of a pack that we ship."
    )
    trip: str = Field(description="The trip sheet of the first session.")
    link: str = Field(description="The link, as for `--link`; another one for each device.")
    map: str = Field(
        default="", description="The map file, beside the device file or one that we ship; none if not given."
    )
    format: str = Field(default="msgpack", description="The wire format, where there is no map file.")
    peers: list[str] = Field(
        default_factory=list, description="Addresses that may send from outside this machine."
    )


class DeviceFileForm(BaseModel):
    """The contents of the file."""

    model_config = ConfigDict(extra="forbid", strict=True)

    devices: dict[str, DeviceForm] = Field(min_length=1)


def load_devices(path: Path) -> list[Device]:
    """Read the file and build its devices.

    Args:
        path: the file.

    Raises:
        InputFaults: all faults of the file's form; where it has none, all faults of the files that it names.
    """
    source = read_source(path)
    try:
        form = DeviceFileForm.model_validate(source.data)
    except ValidationError as error:
        raise InputFaults(faults_of(error, source, model=DeviceFileForm)) from error
    devices, faults = [], _id_faults(form, source)
    packs = PackCache()
    for name, device in form.devices.items():
        try:
            devices.append(_device_from_form(name, device, path.parent, packs))
        except InputFaults as wrong:
            faults.extend(wrong.faults)
        except LinkError as wrong:
            faults.append(Fault(source.place(("devices", name, "link")), str(wrong)))
    if faults:
        raise InputFaults(dict.fromkeys(faults))  # devices with the same pack have the same faults
    return devices


def _id_faults(form: DeviceFileForm, source: SourceDocument) -> list[Fault]:
    """Check the ids, which become parts of addresses, and that no link is used twice."""
    faults = []
    links: dict[str, str] = {}
    for name, device in form.devices.items():
        place = source.place(("devices", name), key=True)
        if name in RESERVED_IDS:
            faults.append(Fault(place, f"{name} is a word of the page's own addresses", "another id"))
        elif not DEVICE_ID.fullmatch(name):
            expected = "a lower-case letter, then up to 39 lower-case letters, digits and _"
            faults.append(Fault(place, f"{name} cannot be the id of a device", expected))
        if links.setdefault(device.link, name) != name:
            what = f"{device.link} is already the link of {links[device.link]}"
            faults.append(Fault(source.place(("devices", name, "link")), what, "a link of its own"))
    return faults


def _device_from_form(name: str, device: DeviceForm, folder: Path, packs: PackCache) -> Device:
    trip_sheet = load_trip_sheet(folder / device.trip)
    local = folder / device.pack
    pack = packs.load(str(local) if local.is_dir() else device.pack, trip=trip_sheet)
    near = folder / device.map
    map_name = str(near) if device.map and near.is_file() else device.map
    map_file = load_map(map_name, input_signals(pack)) if map_name else None
    return build_device(
        pack,
        trip_sheet,
        device.link,
        wire_format=device.format,
        map_file=map_file,
        peers=device.peers,
        device_id=name,
        title=device.title,
    )
