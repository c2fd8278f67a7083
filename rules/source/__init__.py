"""YAML and JSON files as plain data, with the position of every key and value.

YAML is read as version 1.2 with its core schema, and a little stricter, so that a word stays a word:
`on`, `off`, `yes`, `no`, `1:30`, `1_000` and numbers with a leading zero such as `0206` are text;
`true`, `false`, `null`, `740`, `-1.5` and `1e3` have their YAML types; `.nan` and `.inf` are refused.

Takes: a file, or text and its name.  Gives: `SourceDocument`, or `InputFaults` with every fault.
"""

from rules.source.document import SourceDocument, parse_source, read_source
from rules.source.fault_collector import FaultCollector, KeyPath
from rules.source.suggestions import did_you_mean, hint_of, nearest_word, unknown_fault, unknown_word
from rules.source.validation import faults_at, faults_of, validation_error
from rules.source.yaml_tree import Key, PlainData

__all__ = [
    "FaultCollector",
    "Key",
    "KeyPath",
    "PlainData",
    "SourceDocument",
    "did_you_mean",
    "faults_at",
    "faults_of",
    "hint_of",
    "nearest_word",
    "parse_source",
    "read_source",
    "unknown_fault",
    "unknown_word",
    "validation_error",
]
