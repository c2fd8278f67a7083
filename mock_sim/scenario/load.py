"""Reads a scenario from its folder or file, and reports every fault at its place.

Takes: a name under `mock_sim/scenarios` or a path, and the interface of its aeroplane.  Gives: `Scenario`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from pydantic import ValidationError

from mock_sim.scenario.check import AeroplaneInterface, ScenarioChecker
from mock_sim.scenario.model import (
    AeroplaneName,
    Procedure,
    Scenario,
    ScenarioEvent,
    ScenarioFile,
    Setting,
    Setup,
    Slip,
    Wait,
)
from rules.faults import Fault, InputFaults, Place
from rules.source import SourceDocument, did_you_mean, faults_of, read_source

SCENARIOS = Path(__file__).parent.parent / "scenarios"
LONGEST_S = 1800.0
"""Default of `longest_s`, simulated seconds."""
DEFAULT_AEROPLANE: AeroplaneName = "halyard_220"

LoadedFile = tuple[SourceDocument, ScenarioFile]


def load_scenario(
    name_or_path: str | Path, known: AeroplaneInterface | Callable[[AeroplaneName], AeroplaneInterface]
) -> Scenario:
    """Read, merge and check a scenario.

    Args:
        name_or_path: a folder under `mock_sim/scenarios`, or the path of a folder or file.
        known: the controls and signals that the scenario may name, or a function that gives them for an aeroplane.

    Raises:
        InputFaults: lists every fault of every file.
    """
    path = _find(name_or_path)
    files = _with_base(_load_files(_yaml_files(path)))
    named = next((file.aeroplane for _, file in files if file.aeroplane), DEFAULT_AEROPLANE)
    has = known if isinstance(known, AeroplaneInterface) else known(named)
    faults = [*_duplicates(files), *_missing_keys(path, files), *ScenarioChecker(has, files).faults()]
    if faults:
        raise InputFaults(faults)
    return _merge(path.stem, named, [file for _, file in files])


def _yaml_files(path: Path) -> list[Path]:
    """List the files of a scenario."""
    return sorted(path.glob("*.yaml")) if path.is_dir() else [path]


def _with_base(files: list[LoadedFile]) -> list[LoadedFile]:
    """Put the files of the extended scenario first, without the keys that each scenario has for itself."""
    base = next((file.extends for _, file in files if file.extends), None)
    if base is None:
        return files
    own: dict[str, object] = {"title": None, "ends": (), "longest_s": None, "demo": ()}
    trip = {name for _, file in files for name in file.trip}
    first = [
        (source, file.model_copy(update=own | {"trip": _other_trip_entries(file.trip, trip)}))
        for source, file in _with_base(_load_files(_yaml_files(_find(base))))
    ]
    return [*first, *files]


def _other_trip_entries(trip: Setup, names: set[str]) -> Setup:
    """Return the trip entries of the extended scenario that the extending one does not replace."""
    return {name: value for name, value in trip.items() if name not in names}


def _find(name_or_path: str | Path) -> Path:
    """Find the folder or file of a scenario."""
    for path in (SCENARIOS / name_or_path, Path(name_or_path)):
        if path.exists():
            return path
    names = sorted(folder.name for folder in SCENARIOS.iterdir() if folder.is_dir())
    hint = did_you_mean(str(name_or_path), names) or "available: " + ", ".join(names)
    raise InputFaults([Fault(Place(str(name_or_path)), "no such scenario", "a name or a path", hint)])


def _load_files(paths: Iterable[Path]) -> list[LoadedFile]:
    """Read every file; report the faults of all of them at once."""
    files: list[LoadedFile] = []
    faults: list[Fault] = []
    for path in paths:
        try:
            source = read_source(path, path.name)
            files.append((source, _parse_file(source)))
        except InputFaults as wrong:
            faults.extend(wrong.faults)
    if faults:
        raise InputFaults(faults)
    return files


def _parse_file(source: SourceDocument) -> ScenarioFile:
    """Validate one file."""
    try:
        return ScenarioFile.model_validate(source.data)
    except ValidationError as error:
        raise InputFaults(faults_of(error, source, (), ScenarioFile)) from error


def _duplicates(files: list[LoadedFile]) -> list[Fault]:
    """Report keys, steps, slips and events that are defined twice."""
    seen: dict[str, str] = {}
    faults: list[Fault] = []
    for source, file in files:
        named: list[tuple[str, tuple[str | int, ...]]] = [
            *((f"trip.{name}", ("trip", name)) for name in file.trip),
            *((f"world {name}", ("world", name)) for name in file.world),
            *((f"slip {slip.id}", ("slips", number)) for number, slip in enumerate(file.slips)),
            *((f"event {event.id}", ("events", number)) for number, event in enumerate(file.events)),
        ]
        for seat, steps in file.seats.items():
            named += [(f"step {seat}.{step.key}", ("seats", seat, n)) for n, step in enumerate(steps)]
        for name, path in named:
            if name in seen:
                faults.append(
                    Fault(source.place(path, key=True), f"{name} is defined twice", "", f"see {seen[name]}")
                )
            seen.setdefault(name, str(source.place(path, key=True)))
    return faults


def _missing_keys(path: Path, files: list[LoadedFile]) -> list[Fault]:
    """Report the keys that a whole scenario lacks."""
    have = {
        "title": any(file.title for _, file in files),
        "seats": any(file.seats for _, file in files),
        "ends": any(file.ends for _, file in files),
    }
    return [
        Fault(Place(str(path)), f"{key} is missing", f"the key {key}")
        for key, there in have.items()
        if not there
    ]


def _merge(name: str, aeroplane: AeroplaneName, files: list[ScenarioFile]) -> Scenario:
    """Merge all files; duplicates have been refused before."""
    world: dict[str, Setting] = {}
    trip: dict[str, Setting] = {}
    seats: Procedure = {}
    ends: tuple[Wait, ...] = ()
    slips: tuple[Slip, ...] = ()
    events: tuple[ScenarioEvent, ...] = ()
    demo: tuple[str, ...] = ()
    for file in files:
        world |= file.world
        trip |= file.trip
        ends += file.ends
        slips += file.slips
        events += file.events
        demo += file.demo
        for seat, steps in file.seats.items():
            seats[seat] = seats.get(seat, ()) + steps
    title = next(file.title for file in files if file.title)
    longest_s = next((file.longest_s for file in files if file.longest_s), LONGEST_S)
    return Scenario(
        name=name,
        title=title,
        aeroplane=aeroplane,
        world=world,
        trip=trip,
        seats=seats,
        ends=ends,
        longest_s=longest_s,
        slips=slips,
        events=events,
        demo=demo,
    )
