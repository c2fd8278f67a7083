"""Runs `holdshort` as `python -m bridge`.

Takes: the command line.  Gives: the same as `holdshort`.
"""

from bridge.cli import main

main()
