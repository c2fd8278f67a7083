"""Expected findings of each slip in the catalogues.

Takes: `expected.yaml`.  Gives: by scenario and slip: the kind by item or watch.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, TypeAlias

from pydantic import BeforeValidator, TypeAdapter

from rules.packs.model import FindingKind
from rules.source import read_source

Found: TypeAlias = dict[str, list[str]]
"""By item or watch: the kinds of what is found on it, in the order in which they are found."""


def _several(kinds: object) -> object:
    """Accept one kind in place of a list."""
    return [kinds] if isinstance(kinds, str) else kinds


Kinds = Annotated[list[FindingKind], BeforeValidator(_several)]
Expected: TypeAlias = dict[str, dict[str, dict[str, Kinds]]]
_FORM = TypeAdapter(Expected)


def load_expected() -> dict[str, dict[str, Found]]:
    """Read the expected findings by scenario and slip.

    Raises:
        InputFaults: The file cannot be read.
        ValidationError: It has another form.
    """
    read = _FORM.validate_python(read_source(Path(__file__).parent / "expected.yaml").data)
    return {
        scenario: {slip: _words(found) for slip, found in slips.items()} for scenario, slips in read.items()
    }


def _words(found: dict[str, Kinds]) -> Found:
    """Kinds as they are written."""
    return {item: [str(kind) for kind in kinds] for item, kinds in found.items()}
