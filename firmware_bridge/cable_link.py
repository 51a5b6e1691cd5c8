"""Stage: a cable to link events, in a thread of its own. Input: an open cable's bytes; output: events posted.

The cable is closed before it is opened again (with the old descriptor open, a replugged adapter comes back under
another number) and reopened by itself after a loss. What a cable raises is an OSError; here it becomes a LinkChanged
with words.
"""

import errno
import logging
import os
import select
import threading
import time
from collections.abc import Callable
from typing import Protocol

from core.said import NOTHING, Name, Part, Said, said
from firmware_bridge.byte_link import LinkChanged, LinkState, Post
from firmware_bridge.indications import Arrivals
from firmware_bridge.instrument_settings import InstrumentSettings, Sends

# The fastest line an instrument has, 115200 baud, carries 11.5 kB a second; instruments send a few hundred bytes.
MOST_BYTES = 20_000
WITHIN_S = 1.0
# How long a muted cable is left alone before it is listened to again.
MUTED_S = 3.0
MUTED = said("muted: it sends more than any instrument does; pull it, or look what is on it")


class FloodGate:
    """Whether a cable says more than any instrument can: then it is muted, whatever it says. Stands in front of the
    decoder, counts within windows of WITHIN_S, and has no clock."""

    def __init__(self) -> None:
        self._since_s = float("-inf")
        self._bytes = 0
        self.muted = False

    def passes(self, count: int, now_s: float) -> bool:
        """Whether what has just come may be decoded; False while it is a flood, and until a window without one."""
        if now_s - self._since_s >= WITHIN_S:
            self.muted = self.muted and self._bytes > MOST_BYTES
            self._since_s, self._bytes = now_s, 0
        self._bytes += count
        if self._bytes > MOST_BYTES:
            self.muted = True
        return not self.muted


LOG = logging.getLogger("cornerwise.links")
REOPEN_S = 0.1
# The longest the thread waits for a byte without looking up; a byte, a request or close() wakes it at once.
IDLE_S = 5.0

_WORDS = {
    errno.ENOENT: said("not plugged in"),
    errno.ENXIO: said("not plugged in"),
    errno.ENODEV: said("not plugged in"),
    errno.EIO: said("cable pulled"),
    errno.EACCES: said("no permission: add this user to the groups dialout and input"),
    # What the device's own mode allows and the service's sandbox does not is EPERM; groups have nothing to do with it.
    errno.EPERM: said("the system does not let the bench at this port: switch off and on with the cable plugged in"),
    errno.EBUSY: said("in use by another program"),
    errno.EAGAIN: said("in use by another program"),
    errno.ENOTTY: said("not a port an instrument can be on"),
    errno.EINVAL: said("the port refuses these settings"),
    errno.ETIMEDOUT: said("the port takes no request"),
    errno.EHOSTDOWN: said("not in reach, or switched off"),
    errno.ENETDOWN: said("no Bluetooth here, or it is switched off"),
    errno.EADDRNOTAVAIL: said("it has not what is set as its service and characteristic: listen to it again"),
    errno.EREMOTEIO: said("the radio link broke off"),
    errno.ECANCELED: said("given up"),
}


class Cable(Protocol):
    """An open cable. Everything it raises is an OSError."""

    def fileno(self) -> int:
        """Descriptor to wait on."""
        ...

    def read(self) -> bytes:
        """The bytes there are, after the descriptor became readable; raises when the cable is gone."""
        ...

    def write(self, data: bytes) -> None:
        """Send a request."""
        ...

    def close(self) -> None:
        """Free the descriptor, whatever has become of the cable; raises nothing."""
        ...


class Tap(Protocol):
    """Sees every piece of raw bytes, with monotonic times, before it is decoded."""

    def received(self, data: bytes, at_s: float) -> None:
        """Bytes that came."""
        ...

    def sent(self, data: bytes, at_s: float, *, meant: bool) -> None:
        """A request that was written; `meant` when the person asked for a reading."""
        ...


class CableLink:
    """An InstrumentLink on whatever `open_cable` opens; `clock` is monotonic seconds, `tap` sees raw bytes.

    `closing` is set once it is to end, for a cable that takes long to open."""

    def __init__(
        self,
        settings: InstrumentSettings,
        open_cable: Callable[[], Cable],
        *,
        clock: Callable[[], float] = time.monotonic,
        tap: Tap | None = None,
        reopen_s: float = REOPEN_S,
    ) -> None:
        self._settings = settings
        self._open_cable = open_cable
        self._clock = clock
        self._tap = tap
        self._arrivals = Arrivals(settings)
        self._reopen_s = reopen_s
        self.closing = threading.Event()
        self._waker = -1
        self._thread: threading.Thread | None = None
        self._last_words: Part = NOTHING
        self._gate = FloodGate()

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
            self._arrivals.polling.want()
            self._wake()

    def close(self) -> None:
        """Stop and free the port; waits for the thread."""
        self.closing.set()
        self._wake()
        if self._thread is not None:
            self._thread.join()
            self._thread = None
            os.close(self._waker)

    def _wake(self) -> None:
        if self._thread is not None:
            os.eventfd_write(self._waker, 1)

    def _run(self, post: Post) -> None:
        while not self.closing.is_set():
            try:
                self._open_and_use(post)
            except Exception as error:
                # Whatever it is, the other instruments go on, and this one is tried again.
                LOG.exception("unforeseen on the cable of %s", self.instrument)
                self._say(
                    post, LinkState.LOST, said("an error nobody foresaw ({name})", name=Name(type(error).__name__))
                )
            self.closing.wait(self._reopen_s)

    def _open_and_use(self, post: Post) -> None:
        try:
            cable = self._open_cable()
        except OSError as error:
            self._say(post, LinkState.LOST, words_for(error))
        else:
            if not self._gate.muted:
                self._say(post, LinkState.UP, self._settings.speaks)
            self._use(cable, post)

    def _use(self, cable: Cable, post: Post) -> None:
        """Read until the cable is lost or the link closed; the port is closed before the loss is said."""
        words, heard = NOTHING, cable.fileno()
        try:
            while not self.closing.is_set():
                self._ask(cable)
                ready, _, _ = select.select([heard, self._waker], [], [], self._wait_s())
                if self._waker in ready:
                    os.eventfd_read(self._waker)
                if heard in ready:
                    self._hear(cable.read(), post)
        except OSError as error:
            words = words_for(error)
        finally:
            cable.close()
            self._arrivals.reset()
        if words:
            self._say(post, LinkState.LOST, words)

    def _hear(self, data: bytes, post: Post) -> None:
        """Decode what came, unless the cable floods: then it is left alone for a while, and what it says is dropped."""
        was_muted = self._gate.muted
        if self._gate.passes(len(data), self._clock()):
            if was_muted:
                self._say(post, LinkState.UP, self._settings.speaks)
            self._decode(data, post)
            return
        if not was_muted:
            self._arrivals.reset()
            LOG.warning("flood on the cable of %s", self.instrument)
        self._say(post, LinkState.LOST, MUTED)
        self.closing.wait(MUTED_S)

    def _wait_s(self) -> float:
        return self._arrivals.polling.next_due_s(self._clock()) if self._settings.sends is Sends.ASKED else IDLE_S

    def _ask(self, cable: Cable) -> None:
        if self._settings.sends is not Sends.ASKED:
            return
        now_s = self._clock()
        if self._arrivals.polling.due(now_s):
            request = self._settings.format.request
            cable.write(request)
            meant = self._arrivals.polling.asked(now_s)
            if self._tap is not None:
                self._tap.sent(request, now_s, meant=meant)

    def _decode(self, data: bytes, post: Post) -> None:
        arrived_s = self._clock()
        if self._tap is not None:
            self._tap.received(data, arrived_s)
        for event in self._arrivals.feed(data, arrived_s):
            post(event)

    def _say(self, post: Post, state: LinkState, words: Part) -> None:
        """Post a change once, not at every attempt to reopen."""
        if words == self._last_words:
            return
        self._last_words = words
        for instrument in self._settings.instruments:
            post(LinkChanged(instrument=instrument, state=state, text=words))


def words_for(error: OSError) -> Said:
    """What a port raised, in words for the person at the bench."""
    return _WORDS.get(error.errno or errno.EIO, said("the port does not work: {why}", why=Name(str(error))))
