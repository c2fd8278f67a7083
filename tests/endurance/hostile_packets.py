"""Makes hostile packets: long, nested, with invented names, of the fuzzer's corpus, and good ones that were damaged.

Takes: good packets, a seed.  Gives: packets by kind.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import cycle
from random import Random

from tests.adapters.test_budgets import HOSTILE
from tests.fuzz.corpus import CORPUS, read_inputs

MAX_BYTES = 65_000
OF_EACH_KIND = 24
CORPORA = ("decoder_msgpack", "receiver_msgpack", "decoder_json", "sequence")
MAX_SHARE_OF_LARGE = 0.02
"""Share of packets over `LARGE` bytes: a flood of the largest would be one of bytes, and not of packets."""
LARGE = 2_000


def hostile_packets(good: Sequence[bytes], seed: int) -> dict[str, list[bytes]]:
    """Make some packets of each kind; those of `good` are sent again as they were, and damaged."""
    random = Random(seed)
    kinds = {
        maker.__name__: [maker(number)[:MAX_BYTES] for number in range(OF_EACH_KIND)]
        for _, maker, _ in HOSTILE
    }
    for name in CORPORA:
        kinds[f"corpus of {name}"] = [data for data in read_inputs(CORPUS, name) if len(data) <= MAX_BYTES]
    kinds["random bytes"] = [random.randbytes(random.randrange(0, 400)) for _ in range(OF_EACH_KIND)]
    kinds["good ones again"] = list(good[:OF_EACH_KIND])
    kinds["damaged"] = [damaged(random, data) for data in good for _ in range(2)]
    return {name: packets for name, packets in kinds.items() if packets}


def damaged(random: Random, data: bytes) -> bytes:
    """Change some bytes, cut the end off, or put bytes into the middle."""
    changed = bytearray(data)
    match random.randrange(3):
        case 0:
            for _ in range(random.randrange(1, 9)):
                changed[random.randrange(len(changed))] ^= random.randrange(1, 256)
        case 1:
            del changed[random.randrange(len(changed)) :]
        case _:
            where = random.randrange(len(changed))
            changed[where:where] = random.randbytes(random.randrange(1, 64))
    return bytes(changed)


def flood(kinds: dict[str, list[bytes]], seed: int, length: int = 20_000) -> Iterator[bytes]:
    """Give packets without end: a mix of this length of all kinds, again and again, in which few are large."""
    random = Random(seed)
    packets = [data for packets in kinds.values() for data in packets]
    small = [data for data in packets if len(data) <= LARGE] or packets
    large = [data for data in packets if len(data) > LARGE] or small
    mixed = [random.choice(large if random.random() < MAX_SHARE_OF_LARGE else small) for _ in range(length)]
    return cycle(mixed)
