"""Speaks its standard input with pyttsx3, then ends; run as a process of its own.

Takes: words per minute, and optionally a file for the sound, as arguments.  Gives: sound.
"""

from __future__ import annotations

import importlib
import sys


def main(arguments: list[str]) -> int:
    """Speak the standard input.

    Args:
        arguments: words per minute, then the file, if any.
    """
    engine = importlib.import_module("pyttsx3").init()
    engine.setProperty("rate", int(arguments[0]))
    text = sys.stdin.read()
    if len(arguments) > 1:
        engine.save_to_file(text, arguments[1])
    else:
        engine.say(text)
    engine.runAndWait()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
