"""All fuzz targets by name."""

from __future__ import annotations

from tests.fuzz import file_targets, request_targets, wire_targets
from tests.fuzz.target import FuzzTarget

TARGETS: dict[str, FuzzTarget] = {
    target.name: target for target in (*wire_targets.TARGETS, *file_targets.TARGETS, *request_targets.TARGETS)
}
