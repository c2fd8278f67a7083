"""Aeroplanes that no map knows: `python -m tests.other_models` flies each and prints phases, gates and notices.

Takes: nothing.  Gives: text.
"""

from __future__ import annotations

import sys

from tests.other_models.flight import fly, models


def main() -> None:
    """Fly and print."""
    for model in models():
        judged = fly(model)
        heights = f"{min(judged.heights_ft):.0f} to {max(judged.heights_ft):.0f} ft"
        sys.stdout.write(f"{model.folder} ({model.pack}), {heights}: {', '.join(judged.entered)}\n")
        for gate in judged.gates:
            sys.stdout.write(f"  {gate.sim_s:.0f} s {gate.gate}: {gate.judged} of {gate.needs} judged\n")
        for notice in judged.notices:
            sys.stdout.write(f"  {notice.sim_s:.0f} s {notice.level}: {notice.sentence}\n")


if __name__ == "__main__":
    main()
