"""Says what stands on its standard input through pyttsx3, then ends; run as a process of its own.

Takes: words a minute, and optionally a file to write instead of playing, as arguments.  Gives: sound.
"""

from __future__ import annotations

import importlib
import sys


def main(arguments: list[str]) -> int:
    """Say it.

    Args:
        arguments: words a minute, then the file, if any.
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
