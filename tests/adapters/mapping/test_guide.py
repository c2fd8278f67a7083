"""The guide for adapters agrees with the code.

Takes: adapters/README.md and the code.  Gives: tests that fail when either changes alone.
"""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any, ClassVar

from adapters.decoders import base
from adapters.decoders.base import FORMATS
from adapters.decoders.struct_layout import HEADER_PARTS, STRUCT_CODES
from adapters.links.addresses import LINK_ADDRESSES, SCHEMES
from adapters.links.framing import Framing
from adapters.mapping.load_map import parse_map
from rules.source import parse_source

GUIDE = (Path(__file__).parents[3] / "adapters" / "README.md").read_text("utf-8")
BLOCKS = re.findall(r"```yaml\n(.*?)```", GUIDE, re.DOTALL)


def test_the_map_of_the_guide_loads() -> None:
    """The example map and the example layout of a packed record have no fault."""
    map_text, struct = BLOCKS
    assert len(parse_map(parse_source(map_text, "guide.yaml")).plan.fields) == 10
    packed = "map:\n  format: packed_struct\n  signals: [twin_jet]\n  fields: {engine.1.n2: N2}\n" + struct
    assert parse_map(parse_source(packed, "guide.yaml")).struct_layout is not None


def test_every_format_type_and_address_is_in_the_guide() -> None:
    """The guide names every format, type, header part and scheme."""
    words = [*FORMATS, *STRUCT_CODES, *HEADER_PARTS, *(f"{scheme}://" for scheme in SCHEMES)]
    assert [word for word in words if word not in GUIDE] == []


def test_every_scheme_has_an_address_form() -> None:
    """The table of addresses shows each scheme, and no other."""
    assert {address.partition("://")[0] for address in LINK_ADDRESSES} == set(SCHEMES)


def test_the_decoder_of_the_guide_works() -> None:
    """The example decoder reads a number, refuses another record, and turns NaN into None."""
    (source,) = re.findall(r"```python\n(class PipeDecoder.*?)```", GUIDE, re.DOTALL)
    names: dict[str, Any] = {**vars(base), "ClassVar": ClassVar, "Framing": Framing, "math": math}
    exec(source, names)  # noqa: S102 - the example of our own guide
    decoder: base.Decoder = names["PipeDecoder"]()
    decoded = [decoder.decode(data) for data in (b"n2|25.5", b"n2|nan", b"n2")]
    assert [each.values for each in decoded if isinstance(each, base.DecodedRecord)] == [[25.5], [None]]
    assert isinstance(decoded[2], base.Reject)
