"""Validation errors of pydantic as faults in plain words, with their places in the file.

Takes: an error of pydantic, and the document that was validated.  Gives: one `Fault` for each error.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from types import UnionType
from typing import Annotated, TypeAlias, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails, PydanticCustomError

from rules.faults import Fault, Place
from rules.source.document import SourceDocument
from rules.source.suggestions import unknown_fault
from rules.source.yaml_tree import Key

_OWN_ERROR = "holdshort"
MAX_FAULTS = 100
"""Faults of one validation that are listed: each looks for the nearest valid word, and nobody reads more."""


def validation_error(what: str, expected: str = "", hint: str = "") -> PydanticCustomError:
    """Make an error for validators of our own models; it becomes a fault with these three sentences."""
    return PydanticCustomError(_OWN_ERROR, "{what}", {"what": what, "expected": expected, "hint": hint})


Locate: TypeAlias = Callable[[tuple[Key, ...], bool], Place]
"""Gives the place of the value at a path; the place of its key, where the second argument is true."""


def faults_of(
    error: ValidationError,
    source: SourceDocument,
    base: tuple[Key, ...] = (),
    model: type[BaseModel] | None = None,
) -> list[Fault]:
    """Convert each error of a validation to a fault at its key or value.

    Args:
        error: the error of pydantic.
        source: the document that the validated data comes from.
        base: the path of the validated data in the document.
        model: the validated model; with it an unknown key gets "did you mean".

    Returns:
        The faults in the order of the file.
    """
    return faults_at(error, lambda path, key: source.place(base + path, key=key), model)


def faults_at(error: ValidationError, locate: Locate, model: type[BaseModel] | None = None) -> list[Fault]:
    """Convert errors as `faults_of` does, for data that comes from several places."""
    errors = error.errors(include_url=False)
    faults = [_fault(details, locate, model) for details in errors[:MAX_FAULTS]]
    faults.sort(key=lambda fault: (fault.place.line, fault.place.column, fault.what))
    if len(errors) > MAX_FAULTS:
        place = locate(errors[MAX_FAULTS]["loc"], False)  # noqa: FBT003 - a callable has no keywords
        what = f"{len(errors) - MAX_FAULTS} more faults, which are not listed"
        faults.append(Fault(place, what, f"at most {MAX_FAULTS} at once"))
    return faults


def _fault(details: ErrorDetails, locate: Locate, model: type[BaseModel] | None) -> Fault:
    """Convert one error to a fault."""
    path, kind = details["loc"], details["type"]
    name = str(path[-1]) if path else ""
    context: Mapping[str, object] = details.get("ctx", {})
    if kind == "missing":
        return Fault(locate(path[:-1], True), f"{name} is missing", f"the key {name}")  # noqa: FBT003 - a callable has no keywords
    if kind == "extra_forbidden":
        known = _known_keys(model, path[:-1])
        return unknown_fault(locate(path, True), "key", name, known)  # noqa: FBT003 - as above
    if kind == _OWN_ERROR:
        what, expected, hint = (str(context.get(part, "")) for part in ("what", "expected", "hint"))
        return Fault(locate(path, False), what, expected, hint)  # noqa: FBT003 - as above
    what, expected = _describe(kind, details, context)
    return Fault(locate(path, name == "[key]"), what, expected)


def _describe(kind: str, details: ErrorDetails, context: Mapping[str, object]) -> tuple[str, str]:
    """Describe the problem and the expected input."""
    shown = _render_value(details["input"])
    if kind in _EXPECTED:
        return shown, _EXPECTED[kind]
    if kind in _BOUNDS:
        return f"{shown} is out of range", _BOUNDS[kind](context)
    if kind == "string_pattern_mismatch":
        return shown, _PATTERNS.get(str(context["pattern"]), f"text of the form {context['pattern']}")
    if kind in ("literal_error", "enum"):
        return shown, str(context.get("expected", "")).replace("'", "")
    if kind == "value_error":
        return str(context.get("error", details["msg"])), ""
    message = details["msg"]
    return message[:1].lower() + message[1:], ""


_EXPECTED = {
    "string_type": "text (put it in quotes)",
    "string_sub_type": "text (put it in quotes)",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "finite_number": "a finite number",
    "bool_type": "true or false",
    "list_type": "a list",
    "tuple_type": "a list",
    "set_type": "a list",
    "dict_type": "a mapping of keys to values",
    "mapping_type": "a mapping of keys to values",
    "model_type": "a mapping of keys to values",
    "model_attributes_type": "a mapping of keys to values",
    "none_required": "nothing",
    "string_too_short": "some text",
    "too_short": "at least one entry",
}

_PATTERNS = {"^[a-z][a-z0-9_]*$": "a word of small letters, digits and _"}

_BOUNDS: dict[str, Callable[[Mapping[str, object]], str]] = {
    "greater_than": lambda context: f"more than {context['gt']}",
    "greater_than_equal": lambda context: f"{context['ge']} or more",
    "less_than": lambda context: f"less than {context['lt']}",
    "less_than_equal": lambda context: f"{context['le']} or less",
    "string_too_long": lambda context: f"at most {context['max_length']} characters",
    "too_long": lambda context: f"at most {context['max_length']} entries",
}


def _render_value(value: object) -> str:
    """Format a value, short enough to print."""
    if value is None:
        return "missing value"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a mapping"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, str):
        return f"'{value if len(value) <= 60 else value[:57] + '...'}'"
    return str(value)


def _known_keys(model: type[BaseModel] | None, location: tuple[Key, ...]) -> list[str]:
    """List the keys that the model at this location knows, without those that authors do not write (`exclude`)."""
    here = [model] if model else []
    for part in location:
        here = [deeper for known in here for deeper in _models_below(known, part)]
    fields = [(name, field) for known in here for name, field in known.model_fields.items()]
    return sorted({field.alias or name for name, field in fields if not field.exclude})


def _models_below(model: type[BaseModel], part: Key) -> Iterator[type[BaseModel]]:
    """Give the models below one key of a model; numbers of lists and keys of mappings lead to the same model."""
    for name, field in model.model_fields.items():
        if part in (name, field.alias):
            yield from _models_in(field.annotation)
            return
    yield model


def _models_in(annotation: object) -> Iterator[type[BaseModel]]:
    """Give every model in a type annotation."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    elif get_origin(annotation) in (list, tuple, dict, Union, UnionType, Annotated):
        for argument in get_args(annotation):
            yield from _models_in(argument)
