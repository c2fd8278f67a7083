"""The judge: state and pack in, verdicts, findings and notices out."""
