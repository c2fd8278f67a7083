"""The guide for authors says what is so."""

from __future__ import annotations

import re
from pathlib import Path

from adapters.decoders.struct_layout import HEADER_PARTS, STRUCT_CODES
from adapters.factory import FORMATS, SCHEMES
from adapters.mapping.load_map import parse_map
from adapters.mapping.map_form import FORMATS as MAP_FORMATS
from adapters.mapping.map_form import FieldForm, MapForm, StructForm
from rules.source import parse_source

GUIDE = (Path(__file__).parents[3] / "DEVELOPERS.md").read_text()
CHAPTER = GUIDE[GUIDE.index("## 5. Links") : GUIDE.index("## 6. ")]
BLOCKS = re.findall(r"```yaml\n(.*?)```", CHAPTER, re.DOTALL)


def test_the_map_of_the_guide_loads() -> None:
    """The example map of the guide has no fault."""
    whole, struct = BLOCKS
    assert len(parse_map(parse_source(whole, "guide.yaml")).plan.fields) == 10
    packed = "map:\n  format: packed_struct\n  signals: [twin_jet]\n  fields: {engine.1.n2: N2}\n" + struct
    assert parse_map(parse_source(packed, "guide.yaml")).struct_layout is not None


def test_every_key_format_type_and_address_is_in_the_guide() -> None:
    """What a map file may say, and what a link's address may be, stands in the guide."""
    words = [*FORMATS, *STRUCT_CODES, *HEADER_PARTS, *(f"{scheme}://" for scheme in SCHEMES)]
    for model in (MapForm, FieldForm, StructForm):
        words += [f"{field.alias or name}:" for name, field in model.model_fields.items()]
    assert [word for word in words if word not in CHAPTER] == []
    assert set(FORMATS) == set(MAP_FORMATS)
