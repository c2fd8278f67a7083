"""The form of a map file, as pydantic checks it before anything is looked up.

Takes: plain data.  Gives: forms, or every error of shape.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from rules.source import validation_error

FORMATS = ("labelled_csv", "key_value", "json", "msgpack", "packed_struct")
_SHAPE = ConfigDict(extra="forbid", frozen=True, strict=True, populate_by_name=True)


def _expand_short_form(data: object) -> object:
    """The short forms: a text is the field's name, a number its position."""
    if isinstance(data, str):
        return {"from": data}
    return {"position": data} if isinstance(data, int) and not isinstance(data, bool) else data


class SourceForm(BaseModel):
    """Where a value stands."""

    model_config = _SHAPE

    name: str = Field("", alias="from")
    position: int | None = Field(None, ge=1, le=4096)
    bit: int | None = Field(None, ge=0, le=63)

    @model_validator(mode="after")
    def _check_one_source(self) -> SourceForm:
        if bool(self.name) == (self.position is not None):
            raise validation_error(
                "where the value stands is not clear", "either from: NAME or position: NUMBER"
            )
        return self


class ThresholdForm(BaseModel):
    """A number that becomes one of two words."""

    model_config = _SHAPE

    at_least: float = Field(allow_inf_nan=False)
    then: str
    otherwise: str = Field(alias="else")


class ValidityForm(SourceForm):
    """Another field that says whether this one may be used."""

    accepted: float | str | list[float | str] = Field(1.0, alias="is")
    invert: bool = False


class FieldForm(SourceForm):
    """How one signal is read."""

    scale: float = Field(1.0, allow_inf_nan=False)
    offset: float = Field(0.0, allow_inf_nan=False)
    unit: str = ""
    words: dict[str | int, str | float] = {}
    invert: bool = False
    threshold: ThresholdForm | None = None
    valid: Annotated[ValidityForm, BeforeValidator(_expand_short_form)] | None = None

    @model_validator(mode="after")
    def _check_combination(self) -> FieldForm:
        if self.threshold and (self.words or self.invert):
            raise validation_error("threshold does not go with words or invert", "one of them")
        if self.words and (self.unit or self.scale != 1.0 or self.offset != 0.0):
            raise validation_error(
                "words are looked up by the raw value", "no unit, scale or offset beside them"
            )
        if self.scale == 0.0:
            raise validation_error("scale is 0", "another number")
        return self


class ClockForm(SourceForm):
    """The simulator's clock; `bits` is the width of a counter that begins at 0 again, 0: it never does."""

    unit: str = "s"
    bits: int = Field(0, ge=0, le=64)


class SequenceForm(SourceForm):
    """The record's number; `bits` is its width."""

    bits: int = Field(32, ge=4, le=64)


class StructFieldForm(BaseModel):
    """One field of a packed record."""

    model_config = _SHAPE

    type: str
    valid_bit: int | None = Field(None, ge=0, le=4095)


class StructForm(BaseModel):
    """The table of a packed record."""

    model_config = _SHAPE

    endian: Literal["little", "big"]
    magic: str = ""
    version: int | None = Field(None, ge=0)
    header: dict[str, str] = {}
    fields: dict[
        str, Annotated[StructFieldForm, BeforeValidator(lambda d: {"type": d} if isinstance(d, str) else d)]
    ]
    checksum: Literal["crc32", "none"] = "none"
    length_counts: Literal["fields", "whole"] = "fields"


class MapForm(BaseModel):
    """What stands under `map:`."""

    model_config = _SHAPE

    title: str = ""
    format: Literal["labelled_csv", "key_value", "json", "msgpack", "packed_struct"]
    signals: list[str] = []
    time: Annotated[ClockForm, BeforeValidator(_expand_short_form)] | None = None
    sequence: Annotated[SequenceForm, BeforeValidator(_expand_short_form)] | None = None
    paused: Annotated[SourceForm, BeforeValidator(_expand_short_form)] | None = None
    columns: list[str] = []
    struct: StructForm | None = None
    same_names: bool = False
    calls: dict[str, Annotated[SourceForm, BeforeValidator(_expand_short_form)]] = {}
    fields: dict[str, Annotated[FieldForm, BeforeValidator(_expand_short_form)]] = {}

    @model_validator(mode="after")
    def _check_format_options(self) -> MapForm:
        if (self.struct is not None) != (self.format == "packed_struct"):
            raise validation_error("struct goes with format: packed_struct", "both or neither")
        if self.columns and self.format != "labelled_csv":
            raise validation_error("columns go with format: labelled_csv", "no columns in other formats")
        return self


class MapFileForm(BaseModel):
    """A whole map file."""

    model_config = _SHAPE

    map: MapForm
