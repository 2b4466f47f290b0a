"""Damage done to good files on purpose, as it happens to files: cut off, flipped, spliced, stretched."""

import random
import struct
from collections.abc import Sequence

__all__ = ["damaged"]

_EDGES = (0, 1, 2, 0x7F, 0x80, 0xFF, 0x7FFF, 0x8000, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF)


def damaged(data: bytes, chance: random.Random, others: Sequence[bytes] = ()) -> bytes:
    """The file after one to six accidents, most of them near its head where the sizes and types stand."""
    for _ in range(chance.choice((1, 1, 1, 2, 3, 6))):
        data = chance.choice(_KINDS)(data, chance, others)
    return data


def _place(data: bytes, chance: random.Random) -> int:
    """Where to strike: often near the head, seldom in the signature that says what kind of file it is."""
    span = len(data) if chance.random() < 0.4 else min(len(data), chance.choice((32, 256, 1024)))
    least = 0 if chance.random() < 0.1 else min(12, span)
    return chance.randint(least, span)


def _cut_off(data: bytes, chance: random.Random, others: Sequence[bytes]) -> bytes:
    return data[: _place(data, chance)]


def _flipped(data: bytes, chance: random.Random, others: Sequence[bytes]) -> bytes:
    changed = bytearray(data)
    for _ in range(chance.choice((1, 1, 4, 30))):
        if changed:
            at = min(_place(data, chance), len(changed) - 1)
            changed[at] ^= 1 << chance.randrange(8)
    return bytes(changed)


def _edge_number(data: bytes, chance: random.Random, others: Sequence[bytes]) -> bytes:
    order, size = chance.choice("<>"), chance.choice("BHI")
    most = {"B": 0xFF, "H": 0xFFFF, "I": 0xFFFFFFFF}[size]
    number = struct.pack(order + size, chance.choice([edge for edge in _EDGES if edge <= most]))
    at = _place(data, chance)
    return data[:at] + number + data[at + len(number) :]


def _inserted(data: bytes, chance: random.Random, others: Sequence[bytes]) -> bytes:
    at = _place(data, chance)
    return data[:at] + chance.randbytes(chance.choice((1, 3, 16, 200))) + data[at:]


def _taken_out(data: bytes, chance: random.Random, others: Sequence[bytes]) -> bytes:
    at = _place(data, chance)
    return data[:at] + data[at + chance.choice((1, 2, 8, 64, 1000)) :]


def _doubled(data: bytes, chance: random.Random, others: Sequence[bytes]) -> bytes:
    start = _place(data, chance)
    piece = data[start : start + chance.choice((2, 12, 100, 2000))]
    at = _place(data, chance)
    return data[:at] + piece * chance.choice((1, 2, 50)) + data[at:]


def _spliced(data: bytes, chance: random.Random, others: Sequence[bytes]) -> bytes:
    if not others:
        return data
    other = chance.choice(others)
    return data[: _place(data, chance)] + other[_place(other, chance) :]


def _noise(data: bytes, chance: random.Random, others: Sequence[bytes]) -> bytes:
    return chance.randbytes(chance.choice((0, 1, 7, 64, 2000)))


_KINDS = (
    _cut_off,
    _flipped,
    _flipped,
    _flipped,
    _edge_number,
    _edge_number,
    _inserted,
    _taken_out,
    _doubled,
    _spliced,
    _noise,
)
