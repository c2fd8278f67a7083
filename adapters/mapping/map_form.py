"""Pydantic forms of a map file, which check its shape before its names are looked up.

Takes: plain data.  Gives: forms, or every fault of shape.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints, model_validator

from adapters.decoders.base import FORMATS, MAX_FIELDS, MAX_NAME_LENGTH, FormatName
from rules.source import validation_error

_SHAPE = ConfigDict(extra="forbid", frozen=True, strict=True, populate_by_name=True)


def _expand_short_form(data: object) -> object:
    """Expand the short forms: a text is the field's name, a number its position."""
    if isinstance(data, str):
        return {"from": data}
    return {"position": data} if isinstance(data, int) and not isinstance(data, bool) else data


class SourceForm(BaseModel):
    """Source of a value: a field by name or position."""

    model_config = _SHAPE

    name: str = Field("", alias="from", description="The name of the field; a plain text is short for it.")
    position: int | None = Field(
        None, ge=1, le=4096, description="The position of the column, from 1; a plain number is short for it."
    )
    bit: int | None = Field(None, ge=0, le=63, description="The bit of a whole number, from 0 to 63.")

    @model_validator(mode="after")
    def _check_one_source(self) -> SourceForm:
        if bool(self.name) == (self.position is not None):
            raise validation_error(
                "the source of the value is not clear", "either from: NAME or position: NUMBER"
            )
        return self


class ThresholdForm(BaseModel):
    """Rule that turns a number into one of two words."""

    model_config = _SHAPE

    at_least: float = Field(
        allow_inf_nan=False, description="From this number on the signal has the word under `then`."
    )
    then: str = Field(description="The word from the threshold on.")
    otherwise: str = Field(alias="else", description="The word below the threshold.")


class ValidityForm(SourceForm):
    """Another field that decides if this one may be used."""

    accepted: float | str | list[float | str] = Field(
        1.0, alias="is", description="The value, or list of values, that allows the field."
    )
    invert: bool = Field(default=False, description="If true, these values forbid the field instead.")


class FieldForm(SourceForm):
    """Mapping of a field to one signal."""

    scale: float = Field(1.0, allow_inf_nan=False, description="Factor of the raw value; not 0.")
    offset: float = Field(0.0, allow_inf_nan=False, description="Added after the scale.")
    unit: str = Field(
        "",
        description=(
            "The unit of raw value times scale plus offset; it is converted to the signal's unit. Without it, "
            "the signal's own unit."
        ),
    )
    words: dict[str | int, str | float] = Field(
        {},
        description=(
            "Raw values (numbers, words, or ranges such as `2..`) with the signal's word or number for each; the "
            "first that fits. Not together with unit, scale or offset."
        ),
    )
    invert: bool = Field(default=False, description="Switches only: exchanges the two words.")
    threshold: ThresholdForm | None = Field(
        None, description="Turns a number into one of two words. Not together with words or invert."
    )
    valid: Annotated[ValidityForm, BeforeValidator(_expand_short_form)] | None = Field(
        None, description="Another field that decides if this one may be used."
    )

    @model_validator(mode="after")
    def _check_combination(self) -> FieldForm:
        if self.threshold and (self.words or self.invert):
            raise validation_error("threshold together with words or invert", "only one of them")
        if self.words and (self.unit or self.scale != 1.0 or self.offset != 0.0):
            raise validation_error(
                "words together with unit, scale or offset",
                "words alone; they are looked up by the raw value",
            )
        if self.scale == 0.0:
            raise validation_error("scale is 0", "another number")
        return self


class ClockForm(SourceForm):
    """The simulator's clock."""

    unit: str = Field("s", description="The unit of the clock, such as ms.")
    bits: int = Field(
        0,
        ge=0,
        le=64,
        description="The width of a counter that starts again at 0 after its last value; 0 for one that does not.",
    )


class SequenceForm(SourceForm):
    """The sequence number of records."""

    bits: int = Field(
        32,
        ge=4,
        le=64,
        description="The width of the counter, 4 to 64 bits; it starts again at 0 after its last value.",
    )


class StructFieldForm(BaseModel):
    """One field of a packed record."""

    model_config = _SHAPE

    type: str = Field(
        description=(
            "u8 i8 u16 i16 u32 i32 u64 i64 f32 f64 bool text:N pad:N bits:N; a plain text is short for it."
        )
    )
    valid_bit: int | None = Field(
        None,
        ge=0,
        le=4095,
        description=(
            "The bit of the header's validity that allows this field; without it, the bit of the field's position, "
            "if the header has a validity."
        ),
    )


class StructForm(BaseModel):
    """The layout of a packed record."""

    model_config = _SHAPE

    endian: Literal["little", "big"] = Field(description="The byte order: little or big.")
    magic: str = Field("", description="The text with which each record begins.")
    version: int | None = Field(
        None, ge=0, description="The value of the header's version; records of other versions are refused."
    )
    header: dict[str, str] = Field(
        {},
        description=(
            "The parts before the fields, in the order of sending, each with its type: magic, version, flags, length, "
            "sequence, time, validity, pad."
        ),
    )
    fields: dict[
        str, Annotated[StructFieldForm, BeforeValidator(lambda d: {"type": d} if isinstance(d, str) else d)]
    ] = Field(description="The fields in the order of sending, each with its type.")
    checksum: Literal["crc32", "none"] = Field(
        "none",
        description=(
            "crc32: the last four bytes are the CRC-32 (ITU-T V.42, as in zlib) of all bytes before them; none: "
            "no checksum."
        ),
    )
    length_counts: Literal["fields", "whole"] = Field(
        "fields",
        description="The bytes that the header's length counts: those of the fields, or of the whole record.",
    )


class MapForm(BaseModel):
    """Contents of a map file, under the key `map`."""

    model_config = _SHAPE

    title: str = Field("", description="The title of the map in messages.")
    format: FormatName = Field(description=f"The wire format: {', '.join(FORMATS)}.")
    signals: list[str] = Field(
        [], description="The signal books of the fields; needed only where no pack names them."
    )
    time: Annotated[ClockForm, BeforeValidator(_expand_short_form)] | None = Field(
        None, description="The field with the simulator's clock."
    )
    sequence: Annotated[SequenceForm, BeforeValidator(_expand_short_form)] | None = Field(
        None, description="The field that counts records."
    )
    paused: Annotated[SourceForm, BeforeValidator(_expand_short_form)] | None = Field(
        None, description="The field that is 1, on, yes or true while the simulation is paused."
    )
    columns: list[Annotated[str, StringConstraints(max_length=MAX_NAME_LENGTH)]] = Field(
        [],
        max_length=MAX_FIELDS,
        description="labelled_csv only: the order of the columns until a heading arrives.",
    )
    struct: StructForm | None = Field(
        None, description="packed_struct only, and required there: the layout of a record."
    )
    same_names: bool = Field(
        default=False, description="If true, fields that have the name of a signal feed that signal."
    )
    calls: dict[str, Annotated[SourceForm, BeforeValidator(_expand_short_form)]] = Field(
        {},
        description="For each call: the field with the time of the call, besides fields named call.NAME.",
    )
    fields: dict[str, Annotated[FieldForm, BeforeValidator(_expand_short_form)]] = Field(
        {}, description="For each signal: the field that feeds it, and its conversion."
    )

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

    map: MapForm = Field(description="The map.")
