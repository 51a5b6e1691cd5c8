"""Seeded garbage for decoders: noise of every byte, noise of the bytes frames are made of, and damaged frames."""

from __future__ import annotations

import random
from collections.abc import Iterator

_ALPHABET = b"0123456789ABCDEFXPHDMTOW+-., =*%mincMINCH\"'\xb0\t\r\n\r\n"
_FRAMES = (
    b"+012.345\r",
    b"+0123.456\r",
    b"+  12.345 MM\r\n",
    b"X=+90.430\r\n",
    b"APD 89.95\r",
    b"359,99\r\n",
    b"89\xb059'30\"\r\n",
    b"01A-001.2340\r",
    b"1 MW+003.4665 inch\r\n",
    b"3 TO 999999.99 mm\r\n",
    b"001, -1.2340, NRM, 01\r\n",
    b"FFFF000012330\r\n",
    b"010000010111010000000000\r\n",
    b"CW1,1,7,0321040000FFFF,S52*ABCD\r\n",
)


def garbage(seed: int, size: int, piece: int = 1000) -> Iterator[bytes]:
    """About `size` bytes in pieces, a third of each sort."""
    rng = random.Random(seed)
    made = 0
    while made < size:
        sort = rng.randrange(3)
        if sort == 0:
            data = rng.randbytes(piece)
        elif sort == 1:
            data = bytes(rng.choices(_ALPHABET, k=piece))
        else:
            data = b"".join(_damaged(rng) for _ in range(piece // 15))
        made += len(data)
        yield data


def _damaged(rng: random.Random) -> bytes:
    """A frame with up to three of: a flipped bit, a lost byte, a doubled byte, a strange byte."""
    frame = bytearray(rng.choice(_FRAMES))
    for _ in range(rng.randrange(4)):
        place = rng.randrange(len(frame))
        match rng.randrange(4):
            case 0:
                frame[place] ^= 1 << rng.randrange(8)
            case 1:
                del frame[place]
            case 2:
                frame.insert(place, frame[place])
            case _:
                frame[place] = rng.randrange(256)
    return bytes(frame)
