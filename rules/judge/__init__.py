"""Judge of a flight: frames and a pack in; verdicts, findings and notices out."""
