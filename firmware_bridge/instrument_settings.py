"""Frozen settings of one cable: where it is plugged in, what it speaks, and how its indications become readings."""

import math
import re
from collections.abc import Mapping
from enum import StrEnum

from msgspec import Struct, field
from msgspec.structs import replace

from core.errors import BadInputError
from core.metrology import Quantity
from core.said import Name, Number, Said, said
from firmware_bridge.decoders.ascii_lines import AngleRange
from firmware_bridge.decoders.fault import Decoder
from firmware_bridge.wire_formats import DecoderOptions, Framing, WireFormat, wire_format

BY_ID = "/by-id/"  # where the system names ports by the serial number of the plug


class GaugeKind(StrEnum):
    """What an angle gauge's number is: the corner itself, or a tilt, two of which make a corner."""

    BLADE = "blade"
    TILT = "tilt"


_QUANTITY = {Quantity.LENGTH: said("length"), Quantity.ANGLE: said("angle")}


class Sends(StrEnum):
    """When the instrument speaks."""

    STREAM = "stream"  # all the time
    BUTTON = "button"  # only when its data button is pressed: every line is meant
    ASKED = "asked"  # answers a request; a line nobody asked for is its data button


class Capture(StrEnum):
    """What turns a live indication into a reading, beside touch and pedal."""

    DATA_BUTTON = "data-button"
    STEADY_HOLD = "steady-hold"


class HoldSettings(Struct, frozen=True, kw_only=True):
    """Steady hold: within `band` (total spread, mm or degrees) for `time_s`; armed again after leaving by `rearm`."""

    time_s: float = 1.0
    band: float = 0.03
    rearm: float = 0.5

    def __post_init__(self) -> None:
        for name in ("time_s", "band", "rearm"):
            amount = getattr(self, name)
            if not (math.isfinite(amount) and amount > 0.0):
                raise BadInputError(
                    said(
                        "steady hold {name} {amount}: it must be more than zero", name=Name(name), amount=Number(amount)
                    )
                )
        if self.rearm <= self.band:
            raise BadInputError(
                said(
                    "steady hold rearm {rearm}: it must be wider than the band {band}",
                    rearm=Number(self.rearm),
                    band=Number(self.band),
                )
            )


RADIO = "radio:"
HID = "hid:"
_BY_SOCKET = ":@"  # in such a port's name where the device has no serial number


class RadioPlace(Struct, frozen=True, kw_only=True):
    """Where an instrument on Bluetooth Low Energy says its numbers: UUIDs of a service and of a characteristic in it
    that notifies. No public standard names either for calipers."""

    service: str
    characteristic: str

    def __post_init__(self) -> None:
        for one in (self.service, self.characteristic):
            if not re.fullmatch(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}", one):
                raise BadInputError(
                    said("UUID '{one}': 32 hexadecimal digits in five groups, as it is listed", one=Name(one))
                )


class InstrumentSettings(Struct, frozen=True, kw_only=True):
    """One cable. `port` is a stable path (by-id, or by-path for twins), `radio:` and an address with its `radio` place,
    or `hid:` and a USB identity. `framing` None means the format's usual one.

    `channels` maps a multiplexer's channel to the instrument on it; empty for an instrument alone on its cable.
    `poll_s` is how often an instrument that is ASKED is asked for a live indication; None leaves it to request().
    """

    name: str
    port: str
    format_name: str
    quantity: Quantity
    sends: Sends = Sends.STREAM
    capture: Capture = Capture.STEADY_HOLD
    hold: HoldSettings = field(default_factory=HoldSettings)
    gauge_kind: GaugeKind = GaugeKind.BLADE
    framing: Framing | None = None
    options: DecoderOptions = field(default_factory=DecoderOptions)
    poll_s: float | None = None
    channels: Mapping[str, str] = field(default_factory=dict)
    radio: RadioPlace | None = None

    def __post_init__(self) -> None:
        if not self.name or not self.port:
            raise BadInputError(said("an instrument needs a name and a port"))
        if self.on_radio is not (self.radio is not None):
            raise BadInputError(
                said("{name}: an instrument on radio, and no other, has a characteristic", name=Name(self.name))
            )
        if self.on_hid and not self.format.packets:
            raise BadInputError(
                said("{name}: USB reports are packets: choose a format of packets", name=Name(self.name))
            )
        if (self.on_radio or self.on_hid) and self.sends is Sends.ASKED:
            raise BadInputError(
                said("{name}: by radio and in USB reports an instrument is only listened to", name=Name(self.name))
            )
        if self.quantity is not self.format.quantity:
            raise BadInputError(
                said(
                    "{name}: {format} does not give a {quantity}",
                    name=Name(self.name),
                    format=self.format.title,
                    quantity=_QUANTITY[self.quantity],
                )
            )
        if self.format.typed and self.sends is not Sends.BUTTON:
            raise BadInputError(
                said("{name}: an instrument that types sends only when its button is pressed", name=Name(self.name))
            )
        if self.sends is Sends.ASKED and not self.format.request:
            raise BadInputError(
                said("{name}: {format} cannot be asked", name=Name(self.name), format=self.format.title)
            )
        if self.poll_s is not None and not (self.sends is Sends.ASKED and self.poll_s > 0.0):
            raise BadInputError(said("{name}: only an instrument that is asked can be polled", name=Name(self.name)))

        if self.channels and self.sends is Sends.ASKED:
            raise BadInputError(
                said(
                    "{name}: with several instruments on one cable, which of them answered is unsure",
                    name=Name(self.name),
                )
            )
        if self.gauge_kind is GaugeKind.TILT and self.options.angle_range is AngleRange.TO_180:
            raise BadInputError(
                said(
                    "{name}: an inclinometer must count to 360 or signed: 0-180 hides which way it tilts",
                    name=Name(self.name),
                )
            )

    @property
    def on_radio(self) -> bool:
        """True for an instrument on Bluetooth Low Energy."""
        return self.port.startswith(RADIO)

    @property
    def on_hid(self) -> bool:
        """True for an instrument that sends USB reports and is no keyboard."""
        return self.port.startswith(HID)

    @property
    def format(self) -> WireFormat:
        """The wire format by its name."""
        return wire_format(self.format_name)

    @property
    def identity(self) -> str:
        """What the line says of what is on it: the serial number of its plug or in its USB name, its address on radio;
        empty where it says nothing.

        A multiplexer's plug says nothing of the instruments behind it, a socket nothing of what is plugged into it.
        """
        says = BY_ID in self.port or self.on_radio or (self.on_hid and _BY_SOCKET not in self.port)
        return self.port if says and not self.channels else ""

    @property
    def line(self) -> Framing:
        """The serial settings to open the port with."""
        return self.framing or self.format.framing

    @property
    def speaks(self) -> Said:
        """What comes down the cable, in words."""
        if self.on_radio:
            lines = said("{quantity}, lines", quantity=_QUANTITY[self.quantity])
            return said("{format}, by radio", format=self.format.title if self.format.packets else lines)
        if self.format.typed or self.on_hid:
            return self.format.title
        return said("{format}, {line}", format=self.format.title, line=Name(str(self.line)))

    @property
    def instruments(self) -> tuple[str, ...]:
        """The instruments on this cable: those on its channels, or the one itself."""
        return tuple(dict.fromkeys(self.channels.values())) or (self.name,)

    def instrument_on(self, channel: str) -> str | None:
        """The instrument on a channel; None when a multiplexer's channel has none."""
        return self.channels.get(channel) if self.channels else self.name

    def make_decoder(self) -> Decoder:
        """A fresh decoder for this cable."""
        return self.format.make_decoder(replace(self.options, streams=self.sends is Sends.STREAM))
