"""`python -m bridge` is `holdshort`.

Takes: the command line.  Gives: what `holdshort` gives.
"""

from bridge.cli import main

main()
