"""Collection of the faults of one file while it is read.

Takes: a `SourceDocument`, and faults by the path of their key.  Gives: `FaultCollector`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeAlias, TypeVar

from pydantic import BaseModel, ValidationError

from rules.faults import Fault
from rules.source.document import SourceDocument
from rules.source.validation import faults_of
from rules.source.yaml_tree import Key

KeyPath: TypeAlias = tuple[Key, ...]
"""Keys and list numbers from the root of a document to a value."""

ModelT = TypeVar("ModelT", bound=BaseModel)


@dataclass(slots=True)
class FaultCollector:
    """List of the faults of one file."""

    source: SourceDocument
    faults: list[Fault] = field(default_factory=list)

    def add(self, path: KeyPath, what: str, expected: str = "", hint: str = "", *, key: bool = False) -> None:
        """Add a fault at a value, or at its key."""
        self.faults.append(Fault(self.source.place(path, key=key), what, expected, hint))

    def validate(self, model: type[ModelT], path: KeyPath) -> ModelT | None:
        """Validate the data at a path by a model; None after a fault."""
        try:
            return model.model_validate(self.source.value_at(path))
        except ValidationError as error:
            self.faults.extend(faults_of(error, self.source, path, model))
            return None
