"""Reads a file of devices, for a floor with several simulators.

    devices:
      bay_1: {title: Bay 1, pack: twin_jet, trip: flight_1.yaml, link: "udp://127.0.0.1:5139", map: bay.yaml}
      bay_2: {title: Bay 2, pack: twin_jet, trip: flight_2.yaml, link: "udp://127.0.0.1:5140"}

Files are looked for beside it.  `format` says how bytes read where there is no map; `peers` who may send from outside.

Takes: the file.  Gives: a rig for each device, or every fault in it.
"""

from __future__ import annotations

import re
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from adapters.mapping.load_map import load_map
from bridge.runtime.device import Device, build_device
from bridge.session.input_signals import input_signals
from rules.faults import Fault, InputFaults, LinkError
from rules.packs.load_pack import load_pack
from rules.packs.trip_sheet import load_trip_sheet
from rules.source import SourceDocument, faults_of, read_source

DEVICE_ID = re.compile(r"[a-z][a-z0-9_]*")
RESERVED_IDS = ("static",)


class DeviceForm(BaseModel):
    """One device, as its author writes it."""

    model_config = ConfigDict(extra="forbid", strict=True)

    title: str = ""
    pack: str
    trip: str
    link: str
    map: str = ""
    format: str = "msgpack"
    peers: list[str] = Field(default_factory=list)


class DeviceFileForm(BaseModel):
    """The whole file."""

    model_config = ConfigDict(extra="forbid", strict=True)

    devices: dict[str, DeviceForm] = Field(min_length=1)


def load_devices(path: Path) -> list[Device]:
    """Read the file and put every rig together.

    Args:
        path: the file.

    Raises:
        InputFaults: it cannot be read, or something in it or in a file that it names is wrong; every fault.
    """
    source = read_source(path)
    try:
        form = DeviceFileForm.model_validate(source.data)
    except ValidationError as error:
        raise InputFaults(faults_of(error, source)) from error
    rigs, faults = [], _id_faults(form, source)
    for name, device in form.devices.items():
        try:
            rigs.append(_device_from_form(name, device, path.parent))
        except InputFaults as wrong:
            faults.extend(wrong.faults)
        except LinkError as wrong:
            expected = "udp://, tcp://, tcp-listen:// or zmq://HOST:PORT"
            faults.append(Fault(source.place(("devices", name, "link")), str(wrong), expected))
    if faults:
        raise InputFaults(faults)
    return rigs


def _id_faults(form: DeviceFileForm, source: SourceDocument) -> list[Fault]:
    """Names stand in addresses, so not every word will do; a link can be listened at but once."""
    faults = []
    links: dict[str, str] = {}
    for name, device in form.devices.items():
        if name in RESERVED_IDS or not DEVICE_ID.fullmatch(name):
            what = f"a device cannot be called {name}"
            expected = "lower-case letters, digits and _"
            faults.append(Fault(source.place(("devices", name), key=True), what, expected))
        if links.setdefault(device.link, name) != name:
            what = f"{device.link} is the link of {links[device.link]} already"
            faults.append(Fault(source.place(("devices", name, "link")), what, "a link of its own"))
    return faults


def _device_from_form(name: str, device: DeviceForm, folder: Path) -> Device:
    papers = load_trip_sheet(folder / device.trip)
    local = folder / device.pack
    pack = load_pack(str(local) if local.is_dir() else device.pack, trip=papers)
    near = folder / device.map
    map_name = str(near) if device.map and near.is_file() else device.map
    map_file = load_map(map_name, input_signals(pack)) if map_name else None
    return build_device(
        pack,
        papers,
        device.link,
        wire_format=device.format,
        map_file=map_file,
        peers=device.peers,
        device_id=name,
        title=device.title,
    )
