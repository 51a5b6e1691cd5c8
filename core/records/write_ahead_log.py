"""The write-ahead log that a stopped bench left, looked over before SQLite reads it.

Stage: before the archive is opened. Input: the archive's file and its log, at rest. Output: whether a place in the log
is damaged; and the two brought together, frame by frame, so that what stands behind the place is not lost.

SQLite takes the first frame whose checksum does not hold for the log's end and drops it with all that was committed
after it, without a word. Each frame can be proven by itself, for its checksum begins with the one that is stored in the
frame before it; and the checksum tells which bit was flipped. Where more is lost, a later frame of the same page mends
an earlier one, for pages are stored whole. Frames behind the last transaction that ended are what a kill leaves in the
middle of one: nobody was told that it was stored. Source: SQLite database file format, 4.1 and 4.2 (WAL file format,
checksum algorithm), https://sqlite.org/fileformat2.html#walformat.
"""

import shutil
import struct
from collections.abc import Callable, Iterator
from contextlib import suppress
from enum import IntEnum
from functools import cache
from pathlib import Path
from typing import BinaryIO

from msgspec import Struct

from core.numeric import np
from core.records.leaf_pages import PAGE_BYTES
from core.records.whole_writing import sync_path
from core.said import NOTHING, Name, Part, Said, paragraph, said

_HEADER_BYTES = 32
_FRAME_HEADER_BYTES = 24
_MAGIC = 0x377F0682  # its last bit says that checksums are of words in big-endian order
_WORD_BITS = 32
_MODULUS = 1 << _WORD_BITS
_NO_SEED = (0, 0)
# A live bench writes on while its log is read: what is damaged for good is so at each of several looks.
_LOOKS = 3

Checksum = tuple[int, ...]


@cache
def _fibonacci() -> "np.ndarray[tuple[int], np.dtype[np.uint32]]":
    """F(0), F(1), ... modulo 2^32: how often a word has been added in so many steps of the checksum of a page."""
    numbers = [0, 1]
    while len(numbers) < PAGE_BYTES // 4 + 5:
        numbers.append((numbers[-1] + numbers[-2]) % _MODULUS)
    return np.array(numbers, dtype=np.uint32)


def checksum(content: bytes, seed: Checksum, order: str) -> Checksum:
    """SQLite's: each word is added to the sum of the two sums before it; `order` is '<' or '>'.

    Written with the numbers of Fibonacci, for the loop over words takes seconds for a log.
    """
    words = np.frombuffer(content, dtype=f"{order}u4").astype(np.uint32)
    count, before, weights = len(words), np.array(seed, dtype=np.uint32), _fibonacci()

    def after(steps: int) -> int:
        inside = np.sum(words[:steps] * weights[steps:0:-1], dtype=np.uint32)
        start = np.sum(before * weights[steps : steps + 2], dtype=np.uint32)
        return (int(inside) + int(start)) % _MODULUS

    return after(count - 1), after(count)


def without_flipped_bit(content: bytes, seed: Checksum, stored: Checksum, order: str) -> bytes | None:
    """The content with the one bit turned back that makes its checksum what is stored; None where no bit does."""
    words = np.frombuffer(content, dtype=f"{order}u4").astype(np.uint32)
    count, reckoned, weights = len(words), checksum(content, seed, order), _fibonacci()
    wanted = [np.uint32((is_stored - is_now) % _MODULUS) for is_stored, is_now in zip(stored, reckoned, strict=True)]
    for bit in range(_WORD_BITS):
        mask = np.uint32(1 << bit)
        change = np.where(words & mask, np.uint32(_MODULUS - (1 << bit)), mask)
        first, second = change * weights[count - 1 :: -1][:count], change * weights[count:0:-1]
        places = np.flatnonzero((first == wanted[0]) & (second == wanted[1]))
        if len(places):
            words[places[0]] ^= mask
            return words.astype(f"{order}u4").tobytes()
    return None


class Proof(IntEnum):
    """What is known of a frame's content."""

    BAD = 0
    MENDED = 1  # a bit was flipped, in it or in what proves it
    WHOLE = 2


_WORDS: dict[Proof, Said] = {
    Proof.WHOLE: NOTHING,
    Proof.MENDED: said("A bit of what was stored last was wrong on the card; it is mended, and nothing is lost by it."),
    Proof.BAD: said(
        "A place in what was stored last cannot be read; what stands around it is taken over. See whether the last "
        "readings are there."
    ),
}


class _Frame(Struct, frozen=True, kw_only=True):
    """One page as the log has it, `commit_pages` the file's size in pages where a transaction ends with it, else 0;
    `ours` False for what an earlier log left behind this one."""

    page: int
    commit_pages: int
    content: bytes
    proof: Proof
    ours: bool


def log_of(path: Path) -> Path:
    """The write-ahead log of an archive."""
    return path.with_name(path.name + "-wal")


def sync(path: Path) -> None:
    """Have the disk hold what was committed to this archive, without its lock."""
    with suppress(FileNotFoundError):
        sync_path(log_of(path))


def is_damaged(path: Path) -> bool:
    """Whether a place in the log of this archive is not what was written; False for one that merely ends early."""
    return all(_worst(path) is not Proof.WHOLE for _ in range(_LOOKS))


def mend(path: Path, make_name: Callable[[], Path]) -> Part:
    """Where the log is damaged: bring file and log together, keep both as they were under another name, and say so;
    else nothing.

    Only for the one bench, at rest. Killed in the middle it begins again: the log goes last.
    """
    worst = _worst(path)
    if worst is Proof.WHOLE:
        return NOTHING
    aside, log = make_name(), log_of(path)
    for source, target in ((path, aside), (log, log_of(aside))):
        shutil.copyfile(source, target)
        sync_path(target)
    mended = path.with_name(path.name + ".mending")
    bring_together(path, mended)
    mended.replace(path)
    sync_path(path.parent)
    path.with_name(path.name + "-shm").unlink(missing_ok=True)
    log.unlink()
    sync_path(path.parent)
    return paragraph(_WORDS[worst], said("The files as they were are kept as {name}.", name=Name(aside.name)))


def damage_words(path: Path) -> Part:
    """What is said of the log of an archive that is only read; nothing where it is as it was written."""
    return _WORDS[_worst(path)]


def bring_together(path: Path, target: Path) -> None:
    """A copy of the archive with every proven page of its log in it, up to the last transaction that ended."""
    shutil.copyfile(path, target)
    with log_of(path).open("rb") as log, target.open("r+b") as file:
        proven = [frame for frame in _used(_read(log)[1]) if frame.proof is not Proof.BAD]
        while proven and not proven[-1].commit_pages:
            proven.pop()
        for frame in proven:
            file.seek((frame.page - 1) * PAGE_BYTES)
            file.write(frame.content)
        if proven:
            file.truncate(proven[-1].commit_pages * PAGE_BYTES)
    sync_path(target)


def _worst(path: Path) -> Proof:
    """Of what the log holds; whole where there is none."""
    log = log_of(path)
    if not log.exists() or log.stat().st_size <= _HEADER_BYTES:
        return Proof.WHOLE
    with log.open("rb") as file:
        header_holds, frames = _read(file)
    used = _used(frames)
    if not used:
        return Proof.WHOLE
    return min(*(frame.proof for frame in used), Proof.WHOLE if header_holds else Proof.MENDED)


def _used(frames: list[_Frame]) -> list[_Frame]:
    """The frames up to the last one that ended a transaction of this log."""
    last = max((number for number, frame in enumerate(frames) if frame.ours and frame.commit_pages), default=-1)
    return frames[: last + 1]


def _read(file: BinaryIO) -> tuple[bool, list[_Frame]]:
    """(Whether the log's header holds, all that follows it)."""
    header, blocks = file.read(_HEADER_BYTES), []
    while len(block := file.read(_FRAME_HEADER_BYTES + PAGE_BYTES)) == _FRAME_HEADER_BYTES + PAGE_BYTES:
        blocks.append(block)
    magic, _version, page_bytes, _number, *numbers = struct.unpack(">8I", header)
    order = ">" if magic == _MAGIC + 1 else "<"
    salts: Checksum = tuple(numbers[:2])
    stored: Checksum = tuple(numbers[2:])
    holds = magic in (_MAGIC, _MAGIC + 1) and page_bytes == PAGE_BYTES
    reckoned = checksum(header[:24], _NO_SEED, order)
    holds = holds and reckoned == stored
    if not holds and blocks:
        # The second frame says as well which log this is; the first may be lost with the header.
        salts = _numbers(blocks[min(1, len(blocks) - 1)])[2:4]
    return holds, list(_frames(blocks, salts, reckoned if _flipped(reckoned, stored) <= 1 else stored, order))


def _frames(blocks: list[bytes], salts: Checksum, seed: Checksum, order: str) -> Iterator[_Frame]:
    for block in blocks:
        numbers = _numbers(block)
        found, stored = numbers[2:4], numbers[4:6]
        content = block[:8] + block[_FRAME_HEADER_BYTES:]
        reckoned = checksum(content, seed, order)
        proof = Proof.BAD
        # A bit may be flipped in the checksum, in the salt, or in what they are of: the others prove the frame.
        if numbers[0] and _flipped(reckoned, stored) <= 1 and _flipped(found, salts) <= 1:
            proof = Proof.WHOLE if reckoned == stored and found == salts else Proof.MENDED
        elif found == salts and (mended := without_flipped_bit(content, seed, stored, order)) is not None:
            content, reckoned, proof = mended, stored, Proof.MENDED
        page, commit_pages = struct.unpack(">2I", content[:8])
        yield _Frame(
            page=page,
            commit_pages=commit_pages,
            content=content[8:],
            proof=proof,
            ours=found == salts or proof is not Proof.BAD,
        )
        seed = stored if proof is Proof.BAD else reckoned


def _numbers(block: bytes) -> tuple[int, ...]:
    """Page, size after a commit, two salts, checksum."""
    return struct.unpack(">6I", block[:_FRAME_HEADER_BYTES])


def _flipped(one: tuple[int, ...], other: tuple[int, ...]) -> int:
    return sum((left ^ right).bit_count() for left, right in zip(one, other, strict=True))
