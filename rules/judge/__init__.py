"""Judge of a flight: frames and a pack in; verdicts, findings and notices out.

Public: `judge`, `events`, `gate_counts`, `snapshot`.  Everything else is the judge's own.
"""
