"""The line the bridge prints for a frame, and how words of the sampler become frames. Pure: no pins, no clock.

    CW1,<channel>,<sequence>,<word in hex>,<format>*<CRC-16/XMODEM in hex> CRLF

Bit 0 of the word is the first bit on the wire. The board decodes nothing; the host does, once. Runs under MicroPython
and Python alike.
"""

SEQUENCES = 65536


def xmodem(data):
    """CRC-16/XMODEM of bytes: polynomial 0x1021, begins with 0, nothing reflected, no final exclusive-or."""
    crc = 0
    for byte in data:
        crc ^= byte << 8
        for _ in range(8):
            crc = ((crc << 1) ^ 0x1021) & 0xFFFF if crc & 0x8000 else crc << 1
    return crc


def line(channel, sequence, word, bits, letter):
    """One line as bytes, for a frame of `bits` bits; `letter` is S (52-bit SPC) or B (binary)."""
    digits = (bits + 3) // 4
    body = "CW1,{},{},{:0{}X},{}{}".format(channel, sequence, word, digits, letter, bits).encode()
    return body + "*{:04X}\r\n".format(xmodem(body)).encode()


class Sequence:
    """Counts the lines of all channels, so that the host sees when one was lost."""

    def __init__(self):
        self._next = 0

    def take(self):
        """The number of the line to be printed now."""
        number = self._next
        self._next = (number + 1) % SEQUENCES
        return number


class FrameJoiner:
    """Joins the sampler's words to frames: `words` of `word_bits` each, the first word's bits first.

    A frame of which a word is missing `gap_ms` after its first one is dropped: it never mixes with the next.
    """

    def __init__(self, words, word_bits, gap_ms):
        self._words = words
        self._word_bits = word_bits
        self._gap_ms = gap_ms
        self._frame = 0
        self._got = 0
        self._first_ms = 0

    def add(self, word, now_ms):
        """Take a word from the state machine's FIFO; the whole frame, or None while it is not complete."""
        if self._got and now_ms - self._first_ms > self._gap_ms:
            self._got = 0
        if self._got == 0:
            self._frame = 0
            self._first_ms = now_ms
        # The state machine shifts to the right: fewer than 32 bits stand at the upper end of its word.
        self._frame |= (word >> (32 - self._word_bits)) << (self._got * self._word_bits)
        self._got += 1
        if self._got < self._words:
            return None
        self._got = 0
        return self._frame
