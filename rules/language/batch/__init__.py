"""Batch evaluator: a whole recording as columns, evaluated only where a comparison changes.

Takes: checked conditions and a `ColumnSegment`.  Gives: `ColumnMonitors`.
"""

from rules.language.batch.monitors import ColumnCursor, ColumnMonitors

__all__ = ["ColumnCursor", "ColumnMonitors"]
