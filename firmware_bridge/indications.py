"""Stage: raw bytes of one cable to events of the instruments on it. Pure: fed bytes with the time they came.

Decodes, says which indication is a proposal to take the reading (button pressed, or asked for by the person), and
gives each to the instrument on its channel.
"""

from collections.abc import Iterator

from msgspec.structs import replace

from core.metrology import Indication
from core.said import Name, said
from firmware_bridge.byte_link import FaultSeen, IndicationArrived
from firmware_bridge.decoders.fault import Fault, FaultReason
from firmware_bridge.instrument_settings import InstrumentSettings, Sends

# Some instruments take up to two seconds from request to data.
ANSWER_S = 2.0
# Nobody presses twice within this time (or within so many polls): an instrument that sends unasked as often streams,
# and its settings are wrong.
PRESSES_APART_S = 0.5
PRESSES_APART_POLLS = 5


class Polling:
    """Which lines of an instrument that is asked are answers, and which its data button; keeps the one request that is
    out. `poll_s` None: asked only when `want` was called.

    Such an instrument sends the same line when it is asked and when its data button is pressed. A line while an answer
    is due is that answer; a line nobody asked for is the button. After an answer that never came, a line may be the
    late answer and is not taken for the button: a press lost costs a second press, a press invented is a false reading.
    """

    def __init__(self, poll_s: float | None, answer_s: float = ANSWER_S) -> None:
        self._poll_s = poll_s
        self._answer_s = answer_s
        self._asked_s: float | None = None
        self._asked_for_reading = False
        self._last_asked_s = float("-inf")
        self._doubtful_until_s = float("-inf")
        self._presses_apart_s = PRESSES_APART_S if poll_s is None else PRESSES_APART_POLLS * poll_s
        self._last_unasked_s = float("-inf")
        self._wanted = False

    def want(self) -> None:
        """The person asks for a reading (pedal, touch): the answer is a proposal to take it."""
        self._wanted = True

    def due(self, now_s: float) -> bool:
        """True when a request is to be written now."""
        if self._asked_s is not None:
            if now_s - self._asked_s < self._answer_s:
                return False
            self._asked_s = None
            self._doubtful_until_s = now_s + self._answer_s
        if self._wanted:
            return True
        return self._poll_s is not None and now_s - self._last_asked_s >= self._poll_s

    def next_due_s(self, now_s: float) -> float:
        """Seconds until `due` can next become true by itself."""
        if self._asked_s is not None:
            return max(0.0, self._asked_s + self._answer_s - now_s)
        if self._poll_s is None:
            return self._answer_s
        return max(0.0, self._last_asked_s + self._poll_s - now_s)

    def asked(self, now_s: float) -> bool:
        """The request has been written; True when it was the person's."""
        self._asked_s = self._last_asked_s = now_s
        self._asked_for_reading, self._wanted = self._wanted, False
        return self._asked_for_reading

    def line_came(self, now_s: float) -> bool:
        """A line (indication or fault) came; True when it is a proposal to take the reading."""
        if self._asked_s is not None:
            self._asked_s = None
            return self._asked_for_reading
        since_s, self._last_unasked_s = now_s - self._last_unasked_s, now_s
        return now_s >= self._doubtful_until_s and since_s >= self._presses_apart_s

    def reset(self) -> None:
        """The cable was lost: nothing is out any more."""
        self._asked_s = None
        self._wanted = False
        self._doubtful_until_s = float("-inf")


class Arrivals:
    """The decoder and, for an instrument that is asked, the polling of one cable."""

    def __init__(self, settings: InstrumentSettings) -> None:
        self._settings = settings
        self._decoder = settings.make_decoder()
        self.polling = Polling(settings.poll_s)

    def feed(self, data: bytes, arrived_s: float) -> Iterator[IndicationArrived | FaultSeen]:
        """What the bytes make complete, in order."""
        for item in self._decoder.feed(data):
            meant = self._meant(arrived_s)
            instrument = self._settings.instrument_on(item.channel)
            if instrument is None:
                fault = self._nobodys(item)
                yield FaultSeen(instrument=self._settings.instruments[0], fault=fault, arrived_s=arrived_s)
            elif isinstance(item, Fault):
                yield FaultSeen(instrument=instrument, fault=item, arrived_s=arrived_s)
            else:
                indication = replace(item, requested=True) if meant else item
                yield IndicationArrived(instrument=instrument, indication=indication, arrived_s=arrived_s)

    def reset(self) -> None:
        """The cable was lost: forget half-received frames and what was asked."""
        self._decoder.reset()
        self.polling.reset()

    def _nobodys(self, item: Indication | Fault) -> Fault:
        """A fault of no channel stays what it is; an indication of a channel without instrument is refused."""
        if isinstance(item, Fault) and not item.channel:
            return item
        text = said("channel {channel} has no instrument assigned", channel=Name(item.channel or "?"))
        return Fault(reason=FaultReason.REFUSED, text=text, channel=item.channel)

    def _meant(self, now_s: float) -> bool:
        """True when the line that just came is a proposal to take the reading."""
        match self._settings.sends:
            case Sends.STREAM:
                return False
            case Sends.BUTTON:
                return True
            case Sends.ASKED:
                return self.polling.line_came(now_s)
