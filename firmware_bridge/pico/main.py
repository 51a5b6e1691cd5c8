"""The bridge's program: prints a line for every frame of every channel. Set the channels to what is wired.

Copy the five files of this folder to the board (`mpremote cp *.py :`); it then runs from power-on. hardware/wiring.md
says how CK and DATA are brought to 3.3 V.
"""

import sys
import time

from binary_pio import BinarySampler
from bridge_lines import Sequence, line
from spc_pio import SpcSampler


def channels():
    """(Channel, sampler): a 52-bit instrument on pins 2 (DATA), 3 (CK), 4 (REQ); a 24-bit one on 6 and 7.

    For others: `BinarySampler(4, 6, word_bits=28)` for seven BCD digits, `words=2` for two groups of 24 bits,
    `ClockedSampler(5, 8, 9)` for a scale that waits for the reader's clock on pins 8 (DATA) and 9 (CK).
    """
    return ((1, SpcSampler(0, 2, 4)), (2, BinarySampler(4, 6)))


def turn(samplers, sequence, now_ms, write):
    """Look at every channel once and print what it has."""
    for channel, sampler in samplers:
        frame = sampler.take(now_ms)
        if frame is not None:
            write(line(channel, sequence.take(), frame, sampler.bits, sampler.letter))


def main():
    """Run until the power goes."""
    samplers, sequence = channels(), Sequence()
    now_ms, last = 0, time.ticks_ms()
    while True:
        ticks = time.ticks_ms()
        # ticks_ms wraps after some days; the sum of short differences does not.
        now_ms += time.ticks_diff(ticks, last)
        last = ticks
        turn(samplers, sequence, now_ms, sys.stdout.buffer.write)
        time.sleep_ms(1)


if __name__ == "__main__":
    main()
