"""Judge of a whole recording: it evaluates conditions on columns and runs the parts of the judge only where needed.

Takes: a pack, trip values, an input log.  Gives: `BatchJudge`.
"""

from rules.judge.batch.judge import BatchJudge, BatchRequest

__all__ = ["BatchJudge", "BatchRequest"]
