"""What instruments do: numbers to bytes, written from the formats' descriptions and not from the decoders."""

from __future__ import annotations

from collections.abc import Callable


def xmodem(data: bytes) -> int:
    """CRC-16/XMODEM bit by bit: polynomial 0x1021, begins with 0, nothing reflected (CRC catalogue)."""
    crc = 0
    for byte in data:
        crc ^= byte << 8
        for _ in range(8):
            crc = (crc << 1 ^ 0x1021) & 0xFFFF if crc & 0x8000 else crc << 1
    return crc


def spc_digits(count: int, negative: bool, decimals: int, inch: bool) -> list[int]:
    """d1 to d13 for a six-digit count."""
    return [15, 15, 15, 15, 8 if negative else 0, *(int(digit) for digit in f"{count:06d}"), decimals, int(inch)]


def spc_bits(digits: list[int]) -> str:
    """52 bits in the order on the wire: each digit least significant bit first."""
    return "".join(f"{digit:04b}"[::-1] for digit in digits)


def binary_bits(count: int, negative: bool, inch: bool, sign_bit: int = 20, leading_one: bool = False) -> str:
    """24 bits (25 with the leading one) in the order on the wire."""
    bits = ["0"] * 24
    for index in range(20):
        bits[index] = str(count >> index & 1)
    bits[sign_bit] = str(int(negative))
    bits[23] = str(int(inch)) if inch else bits[23]
    return ("1" if leading_one else "") + "".join(bits)


def word_hex(bits: str) -> str:
    """The bridge's word: the first bit on the wire is bit 0."""
    return f"{int(bits[::-1], 2):0{-(-len(bits) // 4)}X}"


def bridge_line(channel: int, sequence: int, bits: str, kind: str) -> bytes:
    """One line of the microcontroller bridge."""
    body = f"CW1,{channel},{sequence},{word_hex(bits)},{kind}".encode()
    return body + f"*{xmodem(body):04X}\r\n".encode()


# How each format writes a length of `n` hundredths of a millimetre, or an angle of `n` hundredths of a degree.
WRITE: dict[str, Callable[[int], bytes]] = {
    "length-3.3": lambda n: f"{n / 100:+08.3f}\r".encode(),
    "length-8-unit": lambda n: f"+{n / 100:8.2f} MM\r\n".encode(),
    "angle-x": lambda n: f"X={n / 100:+07.3f}\r\n".encode(),
    "angle-lettered": lambda n: f"APD{n / 100:7.2f}\r".encode(),
    "angle-plain": lambda n: f"{n / 100:.2f}\r\n".replace(".", ",").encode(),
    "angle-dms": lambda n: f"{n // 100}\xb0{n % 60:02d}'00\"\r\n".encode("latin-1"),
    "channels-lettered": lambda n: f"01A{n / 100:+09.4f}\r".encode(),
    "channels-worded": lambda n: f"1 MW+{n / 100:06.2f} mm\r\n".encode(),
    "channels-behind": lambda n: f"{n / 100:.3f} MM 2\r\n".encode(),
    "channels-first": lambda n: f"001, {n / 100:.4f}, NRM, 01\r\n".encode(),
    "channels-last": lambda n: f"001, {n / 100:.4f}, NRM, 01\r\n".encode(),
    "typed-length": lambda n: f"{n / 100:.2f}\n".encode(),
    "typed-angle": lambda n: f"{n / 100:.2f}\n".encode(),
    "spc-52": lambda n: spc_bits(spc_digits(n, False, 2, False)).encode() + b"\r\n",
    "binary-24": lambda n: binary_bits(n, False, False).encode() + b"\r\n",
    "packets-length": lambda n: n.to_bytes(4, "little").hex().upper().encode() + b"\r",
    "packets-angle": lambda n: n.to_bytes(4, "little").hex().upper().encode() + b"\r",
    "bridge": lambda n: bridge_line(1, n % 65536, spc_bits(spc_digits(n, False, 2, False)), "S52"),
}
