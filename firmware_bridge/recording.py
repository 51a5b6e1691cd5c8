"""Raw captures: what came down a cable, with times, saved to a file and replayed through the ordinary decoder.

A capture is a text file, one JSON object a line, so that a workshop can mail it and a person can read it:

    {"cornerwise_capture": 1, "settings": {…}, "started_utc": "…"}
    {"at_s": 0.132, "sent": "3f0d", "meant": false}
    {"at_s": 0.151, "bytes": "2b3031322e3334350d"}

Input: pieces of bytes with monotonic times (a link's tap), or a file. Output: the file, or link events.
"""

import json
import logging
import threading
from collections.abc import Callable, Iterator
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Any, TypeVar

from msgspec import Struct

from core.errors import BadInputError, reason_of
from core.records import value_json
from core.regular_file import read_regular_file
from core.said import Name, Part, Said, said
from firmware_bridge.byte_link import FaultSeen, IndicationArrived, LinkChanged, LinkState, Post
from firmware_bridge.indications import Arrivals
from firmware_bridge.instrument_settings import InstrumentSettings
from firmware_bridge.settings_store import settings_from_json, settings_to_json

VERSION = 1
LOG = logging.getLogger("cornerwise.links")
T = TypeVar("T")


class Piece(Struct, frozen=True, kw_only=True):
    """Bytes of a capture, seconds after its first: received, or `sent` as a request (`meant`: by the person)."""

    at_s: float
    data: bytes
    sent: bool = False
    meant: bool = False


class Recorder:
    """A tap that writes every piece of raw bytes to a file as it comes."""

    def __init__(self, file: Path, settings: InstrumentSettings, started_utc: datetime | None) -> None:
        self._out = file.open("w", encoding="utf-8")
        self._first_s: float | None = None
        self._write(
            {
                "cornerwise_capture": VERSION,
                "settings": settings_to_json(settings),
                "started_utc": started_utc.isoformat() if started_utc else None,
            }
        )

    def received(self, data: bytes, at_s: float) -> None:
        """Record bytes that came."""
        self._write({"at_s": self._since_first(at_s), "bytes": data.hex()})

    def sent(self, data: bytes, at_s: float, *, meant: bool) -> None:
        """Record a request that was written, without which its answer would replay as a pressed button."""
        self._write({"at_s": self._since_first(at_s), "sent": data.hex(), "meant": meant})

    def close(self) -> None:
        """End the capture."""
        self._out.close()

    def _since_first(self, at_s: float) -> float:
        if self._first_s is None:
            self._first_s = at_s
        return round(at_s - self._first_s, 6)

    def _write(self, line: dict[str, Any]) -> None:
        self._out.write(json.dumps(line) + "\n")
        self._out.flush()


# Some days: beyond what any clock can wait for, the replay would end with an error of its own.
_LONGEST_S = 1e6
MOST_BYTES = 64 * 1024**2  # days of one cable


class Capture(Struct, frozen=True, kw_only=True):
    """A recorded cable: its settings and its pieces in order."""

    settings: InstrumentSettings
    pieces: tuple[Piece, ...]


def read_capture(file: Path) -> Capture:
    """Read a capture; raises BadInputError with file, line and what would be right."""
    try:
        lines = read_regular_file(file, MOST_BYTES).decode("utf-8").splitlines()
    except UnicodeDecodeError as error:
        raise BadInputError(said("{file}: {what}", file=Name(str(file)), what=reason_of(error))) from error
    if not lines:
        raise BadInputError(said("{file}: a capture has at least one line", file=Name(str(file))))
    settings = _parsed(file, 1, lines[0], _settings)
    pieces = [_parsed(file, number, line, _piece) for number, line in enumerate(lines[1:], start=2)]
    for number, (earlier, later) in enumerate(pairwise(pieces), start=3):
        if later.at_s < earlier.at_s:
            raise BadInputError(
                said(
                    "{file}, line {number}: the times of a capture must not run backwards",
                    file=Name(str(file)),
                    number=number,
                )
            )
    return Capture(settings=settings, pieces=tuple(pieces))


def _parsed(file: Path, number: int, line: str, read: Callable[[Any], T]) -> T:
    try:
        return read(value_json.load(line))
    except KeyError as error:
        raise BadInputError(
            said("{file}, line {number}: {why} is missing", file=Name(str(file)), number=number, why=Name(str(error)))
        ) from error
    except (ValueError, TypeError, AttributeError) as error:
        what = error.what if isinstance(error, BadInputError) else Name(str(error))
        parts: dict[str, Part | int] = {"file": Name(str(file)), "number": number, "what": what}
        raise BadInputError(said("{file}, line {number}: {what}", **parts)) from error


def _settings(head: Any) -> InstrumentSettings:
    if head.get("cornerwise_capture") != VERSION:
        raise ValueError(f'the first line of a capture must hold "cornerwise_capture": {VERSION}')
    return settings_from_json(head["settings"])


def _piece(entry: Any) -> Piece:
    at_s = float(entry["at_s"])
    if at_s > _LONGEST_S:
        raise BadInputError(said("no capture takes so long"))
    if "sent" in entry:
        return Piece(at_s=at_s, data=bytes.fromhex(entry["sent"]), sent=True, meant=bool(entry["meant"]))
    return Piece(at_s=at_s, data=bytes.fromhex(entry["bytes"]))


def replayed(arrivals: Arrivals, piece: Piece, now_s: float) -> Iterator[IndicationArrived | FaultSeen]:
    """What one piece gives when it comes now."""
    if piece.sent:
        if piece.meant:
            arrivals.polling.want()
        arrivals.polling.asked(now_s)
    else:
        yield from arrivals.feed(piece.data, now_s)


def played(capture: Capture) -> Iterator[IndicationArrived | FaultSeen]:
    """Every event of a capture, at once: for looking into a fault without waiting. Times count from its first piece."""
    arrivals = Arrivals(capture.settings)
    for piece in capture.pieces:
        yield from replayed(arrivals, piece, piece.at_s)


class ReplayLink:
    """An InstrumentLink that plays a capture at the pace it was recorded, then says that it has ended.

    `wait` sleeps up to so many seconds and returns True when the link was closed meanwhile.
    """

    def __init__(
        self,
        capture: Capture,
        clock: Callable[[], float],
        wait: Callable[[threading.Event, float], bool] = threading.Event.wait,
    ) -> None:
        self._capture = capture
        self._clock = clock
        self._wait = wait
        self._closing = threading.Event()
        self._thread: threading.Thread | None = None

    @property
    def instrument(self) -> str:
        """Stable name of the instrument that was recorded."""
        return self._capture.settings.name

    def start(self, post: Post) -> None:
        """Begin to play; `post` is called from the link's thread."""
        self._thread = threading.Thread(target=self._run, args=(post,), name=f"replay {self.instrument}", daemon=True)
        self._thread.start()

    def request(self) -> None:
        """Nothing: what was recorded cannot be asked."""

    def close(self) -> None:
        """Stop playing; waits for the thread."""
        self._closing.set()
        if self._thread is not None:
            self._thread.join()

    def _run(self, post: Post) -> None:
        try:
            self._play(post)
        except Exception as error:
            LOG.exception("unforeseen in the replay of %s", self.instrument)
            self._say(post, LinkState.LOST, said("an error nobody foresaw ({name})", name=Name(type(error).__name__)))

    def _play(self, post: Post) -> None:
        self._say(post, LinkState.UP, said("replayed from a capture"))
        arrivals, began_s = Arrivals(self._capture.settings), self._clock()
        for piece in self._capture.pieces:
            if self._wait(self._closing, max(0.0, began_s + piece.at_s - self._clock())):
                return
            for event in replayed(arrivals, piece, self._clock()):
                post(event)
        self._say(post, LinkState.LOST, said("the capture has ended"))

    def _say(self, post: Post, state: LinkState, text: Said) -> None:
        for instrument in self._capture.settings.instruments:
            post(LinkChanged(instrument=instrument, state=state, text=text))
