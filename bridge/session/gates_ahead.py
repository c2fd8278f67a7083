"""The gates that a crew will pass next, for every screen.

Takes: a pack and a snapshot of its judge.  Gives: the cued gates, or else the nearest one, and the one after it.
"""

from __future__ import annotations

from rules.judge.snapshot import Snapshot
from rules.packs.model import Gate, Pack


def gates_ahead(pack: Pack, snapshot: Snapshot) -> list[Gate]:
    """Return the cued gates, or else the next one; empty if there is none."""
    ahead = [gate for gate in pack.gates if snapshot.gates[gate.id].active]
    cued = [gate for gate in ahead if snapshot.gates[gate.id].cued]
    return cued or _nearest_first(pack, snapshot.phase, ahead)[:1]


def gates_soon(pack: Pack, snapshot: Snapshot) -> list[Gate]:
    """Return the gates ahead, and the one that follows the last of them."""
    ahead = gates_ahead(pack, snapshot)
    phase = ahead[-1].phase if ahead else ""
    after = [gate for gate in pack.gates if phase in gate.leaves and gate not in ahead]
    return [*ahead, *_nearest_first(pack, phase, after)[:1]]


def _nearest_first(pack: Pack, phase: str, gates: list[Gate]) -> list[Gate]:
    """Sort gates by how likely a crew passes them next, from a phase on.

    Gates with needs come first; then gates that only this phase leads to; then gates into later phases before gates
    into earlier ones, the nearest phase first.
    """
    order = {one.id: at for at, one in enumerate(pack.phases)}
    here = order.get(phase, 0)

    def lateness(gate: Gate) -> tuple[bool, bool, bool, int]:
        steps = order[gate.phase] - here
        return not gate.needs, gate.leaves != (phase,), steps < 0, abs(steps)

    return sorted(gates, key=lateness)
