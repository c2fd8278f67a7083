"""Judging a whole recording at once: columns where the live core folds frames, and the same judge where something changes.

Takes: a pack, papers, a tape.  Gives: `Batch`.
"""

from rules.judge.batch.judge import BatchJudge, BatchRequest

__all__ = ["BatchJudge", "BatchRequest"]
