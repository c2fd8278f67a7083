"""The batch evaluator: a whole recording as columns, then only the moments at which a comparison changes.

Takes: checked conditions and a `Stretch`.  Gives: `ColumnMonitors`.
"""

from rules.language.batch.monitors import ColumnCursor, ColumnMonitors

__all__ = ["ColumnCursor", "ColumnMonitors"]
