"""Samples the 52-bit SPC output with one PIO state machine: asks by REQ, reads DATA while CK is low.

Pins: DATA is the first input, CK the next one up; REQ is driven open-drain only (pulled low or let go), for it is
pulled up to about 1.5 V inside the instrument. The frame comes as two words of 26 bits.
"""

import rp2
from bridge_lines import FrameJoiner
from machine import Pin

BITS = 52
LETTER = "S"
WORD_BITS = 26
FREQUENCY_HZ = 1_000_000
PAUSE_MS = 100  # between a frame and the next request
ANSWER_MS = 2500  # an instrument may take two seconds; one that is off never answers
GAP_MS = 100


@rp2.asm_pio(
    set_init=rp2.PIO.IN_LOW,
    in_shiftdir=rp2.PIO.SHIFT_RIGHT,
    autopush=True,
    push_thresh=26,
)
def sample():
    """One frame for each number of bits (less one) put into the FIFO."""
    wrap_target()
    pull(block)  # the assembler's own words, here and below
    mov(x, osr)  # bits of a frame, less one
    mov(isr, null)
    set(pindirs, 1)  # REQ low: asks
    label("bit")
    wait(0, pin, 1)[8]  # CK low; DATA settles for 8 us
    in_(pins, 1)
    set(pindirs, 0)  # REQ let go with the first bit: one reading per request
    wait(1, pin, 1)
    jmp(x_dec, "bit")
    wrap()


class SpcSampler:
    """One SPC instrument on a state machine."""

    bits = BITS
    letter = LETTER

    def __init__(self, machine_id, data, request):
        self._id = machine_id
        self._data = Pin(data, Pin.IN, Pin.PULL_UP)
        Pin(data + 1, Pin.IN, Pin.PULL_UP)
        # No pull, not even the board's own: REQ hangs on the instrument's weak 1.5 V.
        self._request = Pin(request, Pin.IN, None)
        self._asked_ms = None
        self._next_ms = 0
        self._begin()

    def _begin(self):
        self._joiner = FrameJoiner(2, WORD_BITS, GAP_MS)
        self._machine = rp2.StateMachine(
            self._id, sample, freq=FREQUENCY_HZ, in_base=self._data, set_base=self._request
        )
        self._machine.active(1)

    def take(self, now_ms):
        """A frame when one is complete, else None; asks anew when it is time."""
        if self._asked_ms is None:
            if now_ms >= self._next_ms:
                self._machine.put(BITS - 1)
                self._asked_ms = now_ms
            return None
        while self._machine.rx_fifo():
            frame = self._joiner.add(self._machine.get(), now_ms)
            if frame is not None:
                self._rest(now_ms)
                return frame
        if now_ms - self._asked_ms > ANSWER_MS:
            # Off, or pulled in the middle of a frame: begin again with an empty state machine and REQ let go.
            self._machine.active(0)
            self._begin()
            self._rest(now_ms)
        return None

    def _rest(self, now_ms):
        self._asked_ms = None
        self._next_ms = now_ms + PAUSE_MS
