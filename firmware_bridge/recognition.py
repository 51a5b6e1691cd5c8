"""What does it speak? Pure: raw bytes heard under one framing go to every decoder that is usual under it.

Output: candidates, best first. Several remain where formats look alike (a plain number, which of two numbers is the
channel): the person chooses, and can always overrule.
"""

from collections.abc import Collection, Sequence

from msgspec import Struct

from core.metrology import Indication, Quantity
from firmware_bridge.decoders.fault import Decoder
from firmware_bridge.instrument_settings import Capture, HoldSettings, InstrumentSettings, RadioPlace, Sends
from firmware_bridge.wire_formats import WIRE_FORMATS, DecoderOptions, Framing, WireFormat

# As many indications without anything else between them name a format beyond doubt.
CERTAIN = 3
ANGLE_HOLD = HoldSettings(band=0.15)
POLL_S = 0.1


class Candidate(Struct, frozen=True, kw_only=True):
    """A format that made sense of what was heard. `asked`: only after its request had been sent."""

    format_name: str
    framing: Framing
    indications: int
    faults: int
    last: Indication
    channels: tuple[str, ...]
    asked: bool

    @property
    def certain(self) -> bool:
        """True when what was heard is this format and nothing else."""
        return self.indications >= CERTAIN and self.faults <= 1


class Ear:
    """Listens under one framing with every serial format that is usual under it."""

    def __init__(self, framing: Framing, formats: Sequence[WireFormat], *, asked: bool = False) -> None:
        self._framing = framing
        self._asked = asked
        # What is heard here is shown, never taken for a reading: a line cut in two may be believed.
        whole = DecoderOptions(streams=False)
        self._decoders: dict[str, Decoder] = {row.name: row.make_decoder(whole) for row in formats}
        self._heard: dict[str, list[Indication]] = {name: [] for name in self._decoders}
        self._faults = dict.fromkeys(self._decoders, 0)
        self.bytes_heard = 0

    def feed(self, data: bytes) -> None:
        """Take bytes as they came."""
        self.bytes_heard += len(data)
        for name, decoder in self._decoders.items():
            for item in decoder.feed(data):
                if isinstance(item, Indication):
                    self._heard[name].append(item)
                else:
                    self._faults[name] += 1

    def candidates(self) -> list[Candidate]:
        """Formats that made sense of more lines than they refused, best first."""
        found = [
            Candidate(
                format_name=name,
                framing=self._framing,
                indications=len(heard),
                faults=self._faults[name],
                last=heard[-1],
                channels=tuple(sorted({item.channel for item in heard if item.channel})),
                asked=self._asked,
            )
            for name, heard in self._heard.items()
            if len(heard) > self._faults[name] // 2
        ]
        return sorted(found, key=lambda one: (one.faults - one.indications, one.format_name))


def serial_formats(framing: Framing) -> list[WireFormat]:
    """The formats usual under a framing, without those typed on a keyboard or described by hand."""
    return [row for row in WIRE_FORMATS.values() if framing in row.framings and not (row.typed or row.packets)]


def usual_framings() -> list[Framing]:
    """Every framing some serial format is usual under, the commonest first."""
    found = [framing for row in WIRE_FORMATS.values() if not row.typed for framing in row.framings]
    return sorted(dict.fromkeys(found), key=lambda framing: -found.count(framing))


def offered_settings(
    candidate: Candidate, port: str, taken_names: Sequence[str], radio: RadioPlace | None = None
) -> InstrumentSettings:
    """Settings to offer for what was recognised: a name not yet taken, an instrument for each channel heard; `radio`
    where it was heard there."""
    row = WIRE_FORMATS[candidate.format_name]
    is_angle = row.quantity is Quantity.ANGLE
    name = free_name("angle gauge" if is_angle else "caliper", taken_names)
    streams = candidate.indications >= CERTAIN and not candidate.asked and not row.typed
    sends = Sends.ASKED if candidate.asked else Sends.STREAM if streams else Sends.BUTTON
    return InstrumentSettings(
        name=name,
        port=port,
        format_name=candidate.format_name,
        quantity=row.quantity,
        sends=sends,
        capture=Capture.DATA_BUTTON if sends is Sends.BUTTON else Capture.STEADY_HOLD,
        hold=ANGLE_HOLD if is_angle else HoldSettings(),
        framing=candidate.framing,
        poll_s=POLL_S if sends is Sends.ASKED else None,
        channels={channel: f"{name} {channel}" for channel in candidate.channels},
        radio=radio,
    )


def free_name(kind: str, taken_names: Collection[str]) -> str:
    """The kind of instrument with the first number that makes a name of it nobody has yet."""
    number, name = 1, kind
    while name in taken_names:
        number += 1
        name = f"{kind} {number}"
    return name
