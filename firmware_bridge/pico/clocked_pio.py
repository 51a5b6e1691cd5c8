"""Samples a scale that waits for the reader's clock (21 bits, or as many as it has) with one PIO state machine.

Pins: DATA is an input, CK an output of the board at the scale's 3 V level. A frame is clocked out at about 9 kHz every
20 ms; the scale changes DATA as CK rises, it is taken shortly before CK rises again.
"""

import rp2
from bridge_lines import FrameJoiner
from machine import Pin

LETTER = "B"
FREQUENCY_HZ = 200_000
PERIOD_MS = 20
GAP_MS = 10


def program(threshold):
    """The clock and sampler for frames of `threshold` bits."""

    @rp2.asm_pio(
        set_init=rp2.PIO.OUT_LOW,
        in_shiftdir=rp2.PIO.SHIFT_RIGHT,
        autopush=True,
        push_thresh=threshold,
    )
    def sample():
        wrap_target()
        pull(block)  # bits of a frame, less one; the assembler's own words, here and below
        mov(x, osr)
        mov(isr, null)
        label("bit")
        set(pins, 1)[10]  # 11 times 5 us
        set(pins, 0)[8]
        in_(pins, 1)
        jmp(x_dec, "bit")
        wrap()

    return sample


class ClockedSampler:
    """One scale on a state machine."""

    letter = LETTER

    def __init__(self, machine_id, data, clock, bits=21):
        self.bits = bits
        self._next_ms = 0
        self._joiner = FrameJoiner(1, bits, GAP_MS)
        self._machine = rp2.StateMachine(
            machine_id,
            program(bits),
            freq=FREQUENCY_HZ,
            in_base=Pin(data, Pin.IN),
            set_base=Pin(clock, Pin.OUT),
        )
        self._machine.active(1)

    def take(self, now_ms):
        """A frame when one is complete, else None; clocks the next one out when it is time."""
        if now_ms >= self._next_ms:
            self._next_ms = now_ms + PERIOD_MS
            self._machine.put(self.bits - 1)
        while self._machine.rx_fifo():
            frame = self._joiner.add(self._machine.get(), now_ms)
            if frame is not None:
                return frame
        return None
