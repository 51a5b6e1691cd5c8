"""Samples the 24-bit binary output with one PIO state machine: a bit at every fall of CK, a new frame after idle.

Pins: DATA is the first input, CK the next one up and the pin jumped on. Both come through one transistor each, which
inverts them; the pads turn them back. A frame that stops before its end is forgotten after 2 ms without an edge, so
that noise or a cable plugged in amid a frame costs that frame only.
"""

import rp2
from bridge_lines import FrameJoiner
from machine import Pin, mem32

LETTER = "B"
FREQUENCY_HZ = 1_000_000
IDLE_LOOPS = 1000  # two instructions of 1 us each: 2 ms
GAP_MS = 60
_IO_BANK0 = 0x40014000
_INVERT_INPUT = 0x00010000  # INOVER = 1 of a GPIO's control register (RP2040 datasheet, from memory)


def program(threshold):
    """The sampler for words of `threshold` bits."""

    @rp2.asm_pio(
        in_shiftdir=rp2.PIO.SHIFT_RIGHT,
        autopush=True,
        push_thresh=threshold,
    )
    def sample():
        pull(block)  # loops of silence that end a frame; the assembler's own words, here and below
        wrap_target()
        label("frame")
        mov(isr, null)  # forget what came of a broken frame
        label("bit")
        mov(y, osr)
        label("low")
        jmp(pin, "rose")
        jmp(y_dec, "low")
        jmp("frame")
        label("rose")
        mov(y, osr)
        label("high")
        jmp(pin, "still")
        in_(pins, 1)  # CK fell
        jmp("bit")
        label("still")
        jmp(y_dec, "high")
        wrap()

    return sample


class BinarySampler:
    """One binary instrument on a state machine; `words` of `word_bits` make a frame (2 x 24 for two groups)."""

    letter = LETTER

    def __init__(self, machine_id, data, words=1, word_bits=24, inverted=True):
        self.bits = words * word_bits
        pin = Pin(data, Pin.IN, Pin.PULL_UP)
        clock = Pin(data + 1, Pin.IN, Pin.PULL_UP)
        if inverted:
            for number in (data, data + 1):
                mem32[_IO_BANK0 + 8 * number + 4] |= _INVERT_INPUT
        self._joiner = FrameJoiner(words, word_bits, GAP_MS)
        self._machine = rp2.StateMachine(machine_id, program(word_bits), freq=FREQUENCY_HZ, in_base=pin, jmp_pin=clock)
        self._machine.active(1)
        self._machine.put(IDLE_LOOPS)

    def take(self, now_ms):
        """A frame when one is complete, else None."""
        while self._machine.rx_fifo():
            frame = self._joiner.add(self._machine.get(), now_ms)
            if frame is not None:
                return frame
        return None
