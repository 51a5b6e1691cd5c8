"""Remembers the instruments: InstrumentSettings to JSON and back, one file in the data folder, replaced as a whole.

Input and output: settings by the stable path of their port, and beside them what was recognised there, so that what a
person overruled can be taken back. A file that says something impossible raises
BadInputError with file and instrument named; it is never overwritten silently.
"""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from msgspec import to_builtins

from core.errors import BadInputError, reason_of
from core.metrology import Quantity, Unit
from core.records import read_vouched, value_json, write_vouched, writing_errors
from core.said import Name, said
from firmware_bridge.decoders.ascii_lines import AngleRange, Axis
from firmware_bridge.decoders.binary_24bit import GROUP_BITS, BinaryKind, BinaryLayout
from firmware_bridge.decoders.packet_lines import PacketLayout
from firmware_bridge.instrument_settings import Capture, GaugeKind, HoldSettings, InstrumentSettings, RadioPlace, Sends
from firmware_bridge.wire_formats import FORMER_NAMES, DecoderOptions, Framing, Parity

FILE_NAME = "instruments.json"
# A few hundred bytes an instrument.
_MAX_BYTES = 1024 * 1024
VERSION = 1


class SettingsStore:
    """The instruments of one data folder."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / FILE_NAME

    def load(self) -> tuple[InstrumentSettings, ...]:
        """All instruments remembered, in order; none when nothing was ever remembered."""
        return self._load("instruments")

    def remember(self, settings: InstrumentSettings, *, recognised: bool = False) -> None:
        """Keep these settings for their port, in place of what was kept for it before; `recognised` where no person
        overruled them, to be taken back to later."""
        kept = _without(settings.port, self.load())
        if any(other.name == settings.name for other in kept):
            raise BadInputError(said("instrument name '{name}': another port already has it", name=Name(settings.name)))
        heard = self._load("recognised")
        self._save([*kept, settings], [*_without(settings.port, heard), settings] if recognised else heard)

    def forget(self, port: str) -> None:
        """Forget what was kept for a port."""
        self._save(_without(port, self.load()), _without(port, self._load("recognised")))

    def recognised_on(self, port: str) -> InstrumentSettings | None:
        """What was recognised on a port before anything was overruled, None where nothing was."""
        return next((settings for settings in self._load("recognised") if settings.port == port), None)

    def for_port(self, port: str) -> InstrumentSettings | None:
        """What was kept for a port, None when nothing was."""
        return next((settings for settings in self.load() if settings.port == port), None)

    def _load(self, part: str) -> tuple[InstrumentSettings, ...]:
        try:
            if not self._file.exists():
                return ()
            document: Any = value_json.load(read_vouched(self._file, _MAX_BYTES).decode("utf-8"))
        except (ValueError, OSError) as error:
            what = said("{file}: {what}", file=Name(str(self._file)), what=reason_of(error))
            raise BadInputError(what) from error
        if not isinstance(document, dict) or document.get("version") != VERSION:
            raise BadInputError(
                said(
                    "{file}: it must be a settings file of version {version}",
                    file=Name(str(self._file)),
                    version=VERSION,
                )
            )
        return tuple(self._read(entry) for entry in document.get(part, []))

    def _read(self, entry: dict[str, Any]) -> InstrumentSettings:
        try:
            return settings_from_json(entry)
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            name = entry.get("name", "?") if isinstance(entry, dict) else "?"
            raise BadInputError(
                said(
                    "{file}: instrument {name}: {what}",
                    file=Name(str(self._file)),
                    name=Name(repr(name)),
                    what=reason_of(error),
                )
            ) from error

    def _save(self, settings: Sequence[InstrumentSettings], recognised: Sequence[InstrumentSettings]) -> None:
        document = {
            "version": VERSION,
            "instruments": [settings_to_json(one) for one in settings],
            "recognised": [settings_to_json(one) for one in recognised],
        }
        with writing_errors(self._file):
            self._file.parent.mkdir(parents=True, exist_ok=True)
        write_vouched(self._file, json.dumps(document, indent=2).encode("utf-8"))


def _without(port: str, among: Sequence[InstrumentSettings]) -> list[InstrumentSettings]:
    return [settings for settings in among if settings.port != port]


def settings_to_json(settings: InstrumentSettings) -> dict[str, Any]:
    """Plain values for JSON; the closed vocabularies are their own texts."""
    plain: dict[str, Any] = to_builtins(settings)
    return plain


def settings_from_json(entry: dict[str, Any]) -> InstrumentSettings:
    """The settings of a JSON object; raises KeyError, TypeError or ValueError for what is not one."""
    fields = dict(entry)
    fields["format_name"] = FORMER_NAMES.get(fields["format_name"], fields["format_name"])
    fields["quantity"] = Quantity(fields["quantity"])
    fields["sends"] = Sends(fields["sends"])
    fields["capture"] = Capture(fields["capture"])
    fields["gauge_kind"] = GaugeKind(fields["gauge_kind"])
    fields["hold"] = HoldSettings(**fields["hold"])
    if fields["framing"] is not None:
        fields["framing"] = Framing(**fields["framing"] | {"parity": Parity(fields["framing"]["parity"])})
    # Settings from before instruments were on radio have no place there.
    fields["radio"] = RadioPlace(**fields["radio"]) if fields.get("radio") else None
    options = fields["options"]
    fields["options"] = DecoderOptions(
        unit=None if options["unit"] is None else Unit(options["unit"]),
        angle_range=AngleRange(options["angle_range"]),
        axis=Axis(options.get("axis", Axis.X)),
        binary=_layout(options["binary"]),
        packet=PacketLayout(**options.get("packet", {})),
        # Before layouts had to be proven a person had chosen this one and measured by it.
        binary_proven=options.get("binary_proven", True),
    )
    return InstrumentSettings(**fields)


def _layout(entry: dict[str, Any]) -> BinaryLayout:
    """A layout as it is written now, or as it was when two groups and a leading one were two marks."""
    if "kind" in entry:
        return BinaryLayout(**entry | {"kind": BinaryKind(entry["kind"])})
    kind = BinaryKind.TWO_GROUPS if entry["two_groups"] else BinaryKind.MAGNITUDE
    kept = {name: entry[name] for name in ("leading_one", "sign_bit", "unit_flag")}
    return BinaryLayout(kind=kind, bits=GROUP_BITS + entry["leading_one"], **kept)
