"""Tests of every decoder on bytes from public libraries, valid and invalid.

The bytes were written by msgpack 1.2.4, the standard library's json and struct, and by hand; those of
`jsbsim_rows.json` came out of the UDP socket output of JSBSim 1.3.3.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from adapters.decoders.base import ColumnHeading, DecodedRecord, Decoder, Reject
from adapters.decoders.labelled_csv import LabelledCsvDecoder
from adapters.decoders.struct_layout import Endian, StructField, StructLayout
from adapters.factory import decoder_for

VECTORS = Path(__file__).parents[1] / "vectors"
CASES: list[dict[str, Any]] = json.loads((VECTORS / "formats.json").read_text())
ROWS: list[str] = json.loads((VECTORS / "jsbsim_rows.json").read_text())

HEAD = (
    *(
        StructField("magic", "text:4"),
        StructField("version", "u8"),
        StructField("flags", "u8"),
        StructField("length", "u16"),
    ),
    *(StructField("sequence", "u32"), StructField("time", "f64"), StructField("validity", "u32")),
)
BODY = (
    *(
        StructField("ias", "f32", 0),
        StructField("alt", "f32", 1),
        StructField("n1l", "f32", 3),
        StructField("n1r", "f32", 2),
    ),
    *(StructField("state", "u16"), StructField("gear", "u8"), StructField("pad", "pad:1")),
)
LAYOUT = StructLayout(Endian.LITTLE, HEAD, BODY, magic=b"ACST", version=1)


def decoder(form: str) -> Decoder:
    """Make the decoder of a vector's format."""
    return decoder_for(form, table=LAYOUT)


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case['format']}: {case['case']}")
def test_a_vector_gives_its_result(case: dict[str, Any]) -> None:
    """Each vector gives exactly its fields, its heading, or its reason for refusal."""
    result = decoder(case["format"]).decode(bytes.fromhex(case["bytes"]))
    match case["gives"]:
        case "reject":
            assert isinstance(result, Reject)
            assert result.reason == case["want"]
            assert result.excerpt
        case "heading":
            assert isinstance(result, ColumnHeading)
            assert list(result.names) == case["want"]
        case "values":
            assert isinstance(result, DecodedRecord)
            assert result.values == case["want"]
        case kind:
            assert isinstance(result, DecodedRecord)
            fields = dict(zip(result.names, result.values, strict=True))
            want = case["want"]
            assert fields == (pytest.approx(want, rel=1e-6) if kind == "near" else want)
            assert [type(value) for value in fields.values()] == [type(value) for value in want.values()]


def test_real_output_of_a_flight_model_is_read() -> None:
    """Rows of JSBSim's own output are read under their labels, also with values of more than twelve characters."""
    csv = LabelledCsvDecoder()
    heading, *rows = (csv.decode(bytes.fromhex(row)) for row in ROWS)
    assert isinstance(heading, ColumnHeading)
    assert heading.names[:3] == ("Time", "N1_1", "N1_2")
    records = [
        dict(zip(row.names, row.values, strict=True)) for row in rows if isinstance(row, DecodedRecord)
    ]
    assert [record["Time"] for record in records] == [0.0, 0.5, 5.5, 10.5, 14.0]
    assert records[2]["IAS_KT"] == 6.23397859e-05
    assert records[4]["N2_1"] == 26.987538
