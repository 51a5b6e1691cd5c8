"""Stage: a serial port to link events, in a thread of its own. Input: a stable port path; output: events posted.

The port is opened exclusively, closed before it is opened again (with the old descriptor open, a replugged adapter
comes back under another number), and reopened by itself after a loss. Every exception of the serial library ends here
as a LinkChanged with words.
"""

from __future__ import annotations

import errno
import os
import select
import termios
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import serial

from core.metrology.readings import Indication
from firmware_bridge.byte_link import FaultSeen, IndicationArrived, LinkChanged, LinkState, Post
from firmware_bridge.decoders.fault import Fault, FaultReason
from firmware_bridge.instrument_settings import InstrumentSettings, Sends
from firmware_bridge.polling import Polling
from firmware_bridge.wire_formats import Framing

REOPEN_S = 0.2
# The longest the thread waits for a byte without looking up; a byte, a request or close() wakes it at once.
IDLE_S = 5.0
WRITE_S = 0.5
PSEUDO_TERMINALS = Path("/dev/pts")
# What a pulled cable makes pyserial raise: its own (an OSError), a bare OSError, or termios.error, which is none.
PORT_ERRORS = (OSError, termios.error)

_WORDS = {
    errno.ENOENT: "not plugged in",
    errno.ENXIO: "not plugged in",
    errno.ENODEV: "not plugged in",
    errno.EIO: "cable pulled",
    errno.EACCES: "no permission: add this user to the group dialout",
    errno.EPERM: "no permission: add this user to the group dialout",
    errno.EBUSY: "in use by another program",
    errno.EAGAIN: "in use by another program",
    errno.ENOTTY: "not a serial port",
    errno.EINVAL: "the port refuses these serial settings",
}


class SerialLink:
    """An InstrumentLink on a serial port; `clock` is monotonic seconds, `tap` sees every piece of raw bytes first."""

    def __init__(
        self,
        settings: InstrumentSettings,
        *,
        clock: Callable[[], float] = time.monotonic,
        tap: Callable[[bytes, float], None] | None = None,
    ) -> None:
        self._settings = settings
        self._clock = clock
        self._tap = tap
        self._decoder = settings.make_decoder()
        self._polling = Polling(settings.poll_s)
        self._closing = threading.Event()
        self._waker = -1
        self._thread: threading.Thread | None = None
        self._last_words = ""

    @property
    def instrument(self) -> str:
        """Stable name of the instrument (of the cable, where a multiplexer hangs on it)."""
        return self._settings.name

    def start(self, post: Post) -> None:
        """Begin to read; `post` is called from the link's thread."""
        self._waker = os.eventfd(0, os.EFD_NONBLOCK | os.EFD_CLOEXEC)
        self._thread = threading.Thread(target=self._run, args=(post,), name=f"link {self.instrument}", daemon=True)
        self._thread.start()

    def request(self) -> None:
        """Ask the instrument for its indication; nothing happens where it cannot be asked."""
        if self._settings.sends is Sends.ASKED:
            self._polling.want()
            self._wake()

    def close(self) -> None:
        """Stop and free the port; waits for the thread."""
        self._closing.set()
        self._wake()
        if self._thread is not None:
            self._thread.join()
            self._thread = None
            os.close(self._waker)

    def _wake(self) -> None:
        if self._thread is not None:
            os.eventfd_write(self._waker, 1)

    def _run(self, post: Post) -> None:
        while not self._closing.is_set():
            try:
                port = open_port(self._settings.port, self._settings.line)
            except PORT_ERRORS as error:
                self._say(post, LinkState.LOST, words_for(error))
            else:
                self._say(post, LinkState.UP, f"{self._settings.format.title}, {self._settings.line}")
                self._use(port, post)
            self._closing.wait(REOPEN_S)

    def _use(self, port: serial.Serial, post: Post) -> None:
        """Read until the cable is lost or the link closed; the port is closed before the loss is said."""
        words = ""
        try:
            while not self._closing.is_set():
                self._ask(port)
                ready, _, _ = select.select([port.fileno(), self._waker], [], [], self._wait_s())
                if self._waker in ready:
                    os.eventfd_read(self._waker)
                if port.fileno() in ready:
                    self._decode(port.read(max(1, port.in_waiting)), post)
        except PORT_ERRORS as error:
            words = words_for(error)
        finally:
            close_quietly(port)
            self._decoder.reset()
            self._polling.reset()
        if words:
            self._say(post, LinkState.LOST, words)

    def _wait_s(self) -> float:
        return self._polling.next_due_s(self._clock()) if self._settings.sends is Sends.ASKED else IDLE_S

    def _ask(self, port: serial.Serial) -> None:
        if self._settings.sends is not Sends.ASKED:
            return
        now_s = self._clock()
        if self._polling.due(now_s):
            port.write(self._settings.format.request)
            self._polling.asked(now_s)

    def _decode(self, data: bytes, post: Post) -> None:
        arrived_s = self._clock()
        if self._tap is not None:
            self._tap(data, arrived_s)
        for item in self._decoder.feed(data):
            requested = self._meant(arrived_s)
            instrument = self._settings.instrument_on(item.channel)
            if instrument is None:
                text = f"channel {item.channel or '?'} has no instrument assigned"
                item = Fault(reason=FaultReason.REFUSED, text=text, channel=item.channel)
                instrument = self._settings.name
            if isinstance(item, Fault):
                post(FaultSeen(instrument=instrument, fault=item, arrived_s=arrived_s))
            else:
                meant: Indication = replace(item, requested=True) if requested else item
                post(IndicationArrived(instrument=instrument, indication=meant, arrived_s=arrived_s))

    def _meant(self, now_s: float) -> bool:
        """True when the line that just came is a proposal to take the reading."""
        match self._settings.sends:
            case Sends.STREAM:
                return False
            case Sends.BUTTON:
                return True
            case Sends.ASKED:
                return self._polling.line_came(now_s)

    def _say(self, post: Post, state: LinkState, words: str) -> None:
        """Post a change once, not at every attempt to reopen."""
        if words == self._last_words:
            return
        self._last_words = words
        for instrument in self._settings.instruments:
            post(LinkChanged(instrument=instrument, state=state, text=words))


def open_port(path: str, line: Framing) -> serial.Serial:
    """Open a port for this program alone; raises one of PORT_ERRORS. Reads return at once with what there is."""
    port = serial.Serial()
    port.port = path
    port.baudrate = line.baud
    # A pseudo-terminal has neither bits nor parity, and refuses to be opened twice with any but 8N1.
    if not Path(path).resolve().is_relative_to(PSEUDO_TERMINALS):
        port.bytesize = line.data_bits
        port.parity = line.parity.value
        port.stopbits = line.stop_bits
    port.exclusive = True
    port.dtr = line.dtr
    port.rts = line.rts
    port.timeout = 0
    port.write_timeout = WRITE_S
    port.open()
    return port


def await_bytes(port: serial.Serial, wait_s: float) -> bytes:
    """Wait for bytes and return them; empty after `wait_s`. Raises one of PORT_ERRORS when the cable is gone."""
    ready, _, _ = select.select([port.fileno()], [], [], wait_s)
    return bytes(port.read(max(1, port.in_waiting))) if ready else b""


def words_for(error: BaseException) -> str:
    """The exception of a port in words for the person at the bench."""
    if isinstance(error, serial.SerialTimeoutException):
        return "the port takes no request"
    number = error.args[0] if isinstance(error, termios.error) else getattr(error, "errno", None)
    # The library's own exceptions after a pulled cable carry no number.
    return _WORDS.get(number or errno.EIO, f"the port does not work: {error}")


def close_quietly(port: serial.Serial) -> None:
    """Close a port whose device may be gone; the descriptor is freed either way."""
    try:
        port.close()
    except PORT_ERRORS:
        port.fd = None
