"""Chain of packs: a folder, the pack that it extends, and so on to the base.

Takes: a folder's path or the name of a shipped pack.  Gives: the layers, base first.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field
from os.path import normpath
from pathlib import Path

from rules.faults import Fault, InputFaults, Place
from rules.packs.read_folder import FolderReader, PackLayer
from rules.packs.schema import PackForm
from rules.packs.sourced import SourceLocation, check_form
from rules.source import SourceDocument, did_you_mean, parse_source, read_source

SHIPPED_DIR = Path(__file__).parent / "data"


@dataclass(slots=True)
class PackChain:
    """Layers, base first, with their heads.

    `complete` is false where a file could not be read.  `folders` are their paths, the requested pack first.
    """

    layers: list[PackLayer] = field(default_factory=list)
    headers: list[PackForm] = field(default_factory=list)
    folders: list[str] = field(default_factory=list)
    complete: bool = True


def shipped_packs() -> list[str]:
    """Names of the packs that are shipped."""
    return sorted(path.name for path in SHIPPED_DIR.iterdir() if path.is_dir() and any(path.glob("*.yaml")))


def read_chain(path_or_name: str, faults: list[Fault]) -> PackChain:
    """Read a pack and all that it extends.

    Args:
        path_or_name: Folder (or a single file), or the name of a shipped pack.
        faults: List to which faults are added.
    """
    chain = PackChain()
    folder: Path | None = _find_pack(path_or_name, Path())
    asked_at = Place(path_or_name)
    seen: list[Path] = []
    while folder is not None:
        if not _refuse_cycle(folder, seen, asked_at, faults):
            chain.complete = False
            break
        chain.folders.append(str(folder))
        layer, complete = _read_layer(folder, faults)
        chain.layers.insert(0, layer)
        chain.complete = chain.complete and complete
        head = check_form(layer.header, PackForm, faults) if layer.header.fields else None
        if head is None:
            _note_missing_header(folder, layer, chain, faults)
            break
        chain.headers.insert(0, head)
        asked_at = layer.header.field_location("extends").place()
        folder = _base_folder(head, folder, asked_at, faults)
        chain.complete = chain.complete and (folder is not None or head.extends is None)
    if not seen:
        faults.append(_unknown_pack_fault(path_or_name, asked_at))
    return chain


def _note_missing_header(folder: Path, layer: PackLayer, chain: PackChain, faults: list[Fault]) -> None:
    """Report a pack without a readable head; it ends the chain."""
    if not layer.header.fields and chain.complete:
        faults.append(
            Fault(Place(str(folder)), "no file here has the section pack", "pack: with id and title")
        )
    chain.complete = False


def _find_pack(name: str, beside: Path) -> Path | None:
    """Find a path relative to the extending pack, otherwise a shipped pack."""
    for path in (Path(normpath(beside / name)), SHIPPED_DIR / name):
        with suppress(OSError):  # a name too long for the system is no name of a pack
            if path.is_dir() or path.is_file():
                return path
    return None


def _base_folder(head: PackForm, folder: Path, place: Place, faults: list[Fault]) -> Path | None:
    """Folder of the pack that this one extends."""
    if head.extends is None:
        return None
    here = folder if folder.is_dir() else folder.parent
    found = _find_pack(head.extends, here)
    if found is None:
        faults.append(_unknown_pack_fault(head.extends, place))
    return found


def _unknown_pack_fault(name: str, place: Place) -> Fault:
    """Fault of a name that is neither a path nor a shipped pack."""
    hint = did_you_mean(name, shipped_packs()) or f"shipped: {', '.join(shipped_packs())}"
    return Fault(place, "unknown pack", "a folder, or the name of a shipped pack", hint)


def _refuse_cycle(folder: Path, seen: list[Path], place: Place, faults: list[Fault]) -> bool:
    """Report a pack that extends itself directly or indirectly; False for such a pack."""
    real = folder.resolve()
    if real in seen:
        cycle = " → ".join(path.name for path in [*seen[seen.index(real) :], real])
        faults.append(Fault(place, f"circular reference of packs: {cycle}", "a base pack"))
        return False
    seen.append(real)
    return True


def _read_layer(folder: Path, faults: list[Fault]) -> tuple[PackLayer, bool]:
    """Read every file of a folder; readable files are used even where another is not."""
    collector = FolderReader(SourceLocation(parse_source("", str(folder)), ()), faults)
    sources, complete = _read_sources(folder, faults)
    for source in sources:
        collector.add_file(source)
    return collector.layer, complete


def _read_sources(folder: Path, faults: list[Fault]) -> tuple[list[SourceDocument], bool]:
    """Sources of a folder in the order of their names; a single file is a pack of its own."""
    paths, before = _yaml_paths(folder, faults), len(faults)
    sources = []
    for path in paths:
        try:
            sources.append(read_source(path))
        except InputFaults as error:
            faults.extend(error.faults)
    return sources, len(faults) == before


def _yaml_paths(folder: Path, faults: list[Fault]) -> list[Path]:
    """Paths of the .yaml files of a folder, without hidden ones."""
    if folder.is_file():
        return [folder]
    beside = sorted(path for path in folder.iterdir() if not path.name.startswith("."))
    faults.extend(
        Fault(Place(str(path)), "this file is ignored", "the ending .yaml")
        for path in beside
        if path.suffix in (".yml", ".YAML", ".YML")
    )
    return [path for path in beside if path.suffix == ".yaml"]
