"""Sound from a WAV file as samples for the belt note.

Stage: correction (cause). Input: a WAV file, plain PCM. Output: samples of one channel and their rate.
"""

from pathlib import Path
from typing import IO, BinaryIO

from msgspec import Struct

from core.errors import BadInputError, reason_of
from core.numeric import FloatArray, np
from core.regular_file import opened_regular_file
from core.said import Name, Part, said

_LONGEST_S = 120.0


class Recording(Struct, frozen=True, kw_only=True, eq=False):
    """Samples of one channel between -1 and 1, shape (n,), and their rate."""

    samples: FloatArray
    rate_hz: float


def read_wav(source: Path | BinaryIO) -> Recording:
    """Read a WAV file (8 to 32 bit PCM; several channels are averaged); raises BadInputError for anything else."""
    if isinstance(source, Path):
        with opened_regular_file(source) as opened:
            return _read(opened, Name(source.name))
    return _read(source, said("the recording"))


def _read(source: IO[bytes], name: Part) -> Recording:
    import wave  # with the first belt that is heard

    try:
        with wave.open(source, "rb") as file:
            channels, width, rate = file.getnchannels(), file.getsampwidth(), file.getframerate()
            raw = file.readframes(min(file.getnframes(), int(_LONGEST_S * rate)))
    except (wave.Error, EOFError, ValueError) as exc:
        raise BadInputError(
            said("{name}: not a plain WAV recording ({why}); record 16 bit PCM", name=name, why=Name(str(exc)))
        ) from exc
    except OSError as exc:
        raise BadInputError(said("{file}: {what}", file=name, what=reason_of(exc))) from exc
    raw = raw[: len(raw) - len(raw) % (width * channels)]
    samples = _whole_numbers(raw, width).astype(np.float64) / float(1 << (8 * width - 1))
    return Recording(samples=samples.reshape(-1, channels).mean(axis=1), rate_hz=float(rate))


def _whole_numbers(raw: bytes, width: int) -> "np.ndarray[tuple[int, ...], np.dtype[np.int64]]":
    """Signed samples of 1 to 4 bytes, little-endian; one-byte samples are unsigned in WAV files."""
    if width == 1:
        return np.frombuffer(raw, dtype=np.uint8).astype(np.int64) - 128
    octets = np.frombuffer(raw, dtype=np.uint8).astype(np.int64).reshape(-1, width)
    numbers = sum((octets[:, place] << (8 * place) for place in range(width)), np.zeros(len(octets), dtype=np.int64))
    return np.where(numbers >= 1 << (8 * width - 1), numbers - (1 << (8 * width)), numbers)
