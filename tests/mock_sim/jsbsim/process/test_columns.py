"""Tests of the columns, and of the maps that read them."""

from __future__ import annotations

from xml.etree.ElementTree import fromstring

import pytest

from adapters.mapping.load_map import load_map
from mock_sim.jsbsim.process.columns import PISTON_COLUMNS, TWIN_JET_COLUMNS, OutputColumn, output_directive

BOTH = pytest.mark.parametrize(
    ("columns", "map_name"), [(TWIN_JET_COLUMNS, "jsbsim_twin_jet"), (PISTON_COLUMNS, "jsbsim_piston")]
)


@BOTH
def test_captions_are_unique(columns: tuple[OutputColumn, ...], map_name: str) -> None:
    """No caption appears twice, none has a comma or a blank, and no property is sent twice."""
    assert map_name
    captions = [column.caption for column in columns]
    assert len(set(captions)) == len(captions) == len({column.path for column in columns})
    assert all(caption.isidentifier() for caption in captions)


@BOTH
def test_map_has_the_order_of_sending(columns: tuple[OutputColumn, ...], map_name: str) -> None:
    """A receiver without labels reads by the map's columns: they are the captions, in their order, after the time."""
    assert load_map(map_name).columns == ("Time", *(column.caption for column in columns))


@BOTH
def test_map_uses_every_column(columns: tuple[OutputColumn, ...], map_name: str) -> None:
    """Every column that is sent feeds a signal, and every field of the map is a column that is sent."""
    fed = {field.source.name for field in load_map(map_name).plan.fields}
    assert fed == {column.caption for column in columns}


@BOTH
def test_output_file_asks_for_each_column(columns: tuple[OutputColumn, ...], map_name: str) -> None:
    """The library is asked for UDP to this machine, at a rate that its 120 steps divide, with each caption.

    A difference is a property that the library computes by the function of that name.
    """
    assert map_name
    output = fromstring(output_directive(columns, 5139))  # noqa: S314 - our own text
    assert (output.get("type"), output.get("protocol"), output.get("name")) == ("SOCKET", "UDP", "127.0.0.1")
    assert output.get("port") == "5139"
    assert 120 % int(output.get("rate", "")) == 0
    computed = {
        str(function.get("name")): [part.text for part in function.findall("difference/property")]
        for function in output.findall("function")
    }
    requested = [
        (entry.get("caption"), computed.get(str(entry.text), [entry.text]))
        for entry in output.findall("property")
    ]
    assert requested == [
        (column.caption, [column.path, column.less] if column.less else [column.path]) for column in columns
    ]
