"""Stage: raw bytes of one cable to events of the instruments on it. Pure: fed bytes with the time they came.

Decodes, says which indication is a proposal to take the reading (button pressed, or asked for by the person), and
gives each to the instrument on its channel.
"""

from collections.abc import Iterator
from dataclasses import replace

from core.metrology.readings import Indication
from core.said import Name, said
from firmware_bridge.byte_link import FaultSeen, IndicationArrived
from firmware_bridge.decoders.fault import Fault, FaultReason
from firmware_bridge.instrument_settings import InstrumentSettings, Sends
from firmware_bridge.polling import Polling


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
