"""What the panel really shows: the pixels the graphics card is scanning out, read past the program that drew them.

Needs root (the kernel hands a foreign buffer to nobody else). Source: the kernel's drm/drm.h and drm/drm_mode.h.
"""

from __future__ import annotations

import fcntl
import mmap
import os
import struct
from pathlib import Path

import numpy as np

GETRESOURCES, GETCRTC, GETFB = 0xC04064A0, 0xC06864A1, 0xC01C64AD
MAP_DUMB, GEM_CLOSE = 0xC01064B3, 0x40086409
CARD = Path("/dev/dri/card0")


def panel_pixels(card: Path = CARD) -> np.ndarray:
    """The picture on the card's lit panel as array (height, width, 3), red green blue, first row at the top.

    Raises LookupError where nothing is lit.
    """
    descriptor = os.open(card, os.O_RDWR | os.O_CLOEXEC)
    try:
        for crtc in _crtcs(descriptor):
            buffer, has_mode = _shown_on(descriptor, crtc)
            if buffer and has_mode:
                return _read(descriptor, buffer)
    finally:
        os.close(descriptor)
    raise LookupError(f"{card} lights no panel")


def _crtcs(descriptor: int) -> list[int]:
    counts = struct.unpack("4Q8I", fcntl.ioctl(descriptor, GETRESOURCES, struct.pack("4Q8I", *[0] * 12)))
    room = np.zeros(counts[5], np.uint32)
    asked = struct.pack("4Q8I", 0, room.ctypes.data, 0, 0, 0, len(room), 0, 0, 0, 0, 0, 0)
    fcntl.ioctl(descriptor, GETRESOURCES, asked)
    return [int(crtc) for crtc in room]


def _shown_on(descriptor: int, crtc: int) -> tuple[int, bool]:
    answer = fcntl.ioctl(descriptor, GETCRTC, struct.pack("Q7I68x", 0, 0, crtc, 0, 0, 0, 0, 0))
    _connectors, _count, _crtc, buffer, _x, _y, _gamma, has_mode = struct.unpack_from("Q7I", answer)
    return buffer, bool(has_mode)


def _read(descriptor: int, buffer: int) -> np.ndarray:
    answer = fcntl.ioctl(descriptor, GETFB, struct.pack("7I", buffer, 0, 0, 0, 0, 0, 0))
    _buffer, width, height, pitch, bits, _depth, handle = struct.unpack("7I", answer)
    if bits != 32 or handle == 0:
        raise PermissionError(f"a buffer of {bits} bits, handle {handle}: root is needed")
    try:
        asked = struct.pack("IIQ", handle, 0, 0)
        offset = struct.unpack("IIQ", fcntl.ioctl(descriptor, MAP_DUMB, asked))[2]
        with mmap.mmap(descriptor, pitch * height, mmap.MAP_SHARED, mmap.PROT_READ, offset=offset) as mapped:
            rows = np.frombuffer(bytes(mapped), np.uint8).reshape(height, pitch)
    finally:
        fcntl.ioctl(descriptor, GEM_CLOSE, struct.pack("II", handle, 0))
    # XRGB8888, little endian: blue first.
    return rows[:, : width * 4].reshape(height, width, 4)[:, :, 2::-1]
