"""Instruments on Bluetooth Low Energy, as cables: what their characteristic notifies comes as bytes of a descriptor.

Input: an address, and the service and characteristic that say the number. Output: the bytes of each notification as
they are for formats of lines, each as one line in hexadecimal digits for formats of packets. Nothing is sent but what
subscribing needs, and nothing is looked for until a person asks, or uses an instrument that is not in reach.

The library lives in a loop of its own, in a thread of its own, for each cable; every exception of it is translated to
an OSError here and nowhere else. Source: Bluetooth Core Specification, Vol 3 Part G (GATT: notifications, indications).
"""

import asyncio
import errno
import socket
import threading
import time
from collections.abc import AsyncIterator, Callable, Coroutine, Iterator, Mapping
from contextlib import asynccontextmanager, contextmanager, suppress
from typing import Any, TypeVar

from bleak import BleakClient, BleakScanner
from bleak.backends.client import BaseBleakClient
from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakCharacteristicNotFoundError,
    BleakDeviceNotFoundError,
    BleakError,
)
from msgspec import Struct

from core.progress import Told, nobody
from firmware_bridge.cable_link import CableLink, Tap
from firmware_bridge.decoders.packet_lines import MOST_BYTES, packet_line
from firmware_bridge.instrument_settings import RADIO, InstrumentSettings, RadioPlace

LOOK_S = 6.0  # an instrument that saves its battery says that it is there every second or two
CONNECT_S = 12.0
# One that sleeps is waited for without filling the air.
REOPEN_S = 3.0
# The thread that opens looks up so often whether it is to give up.
GIVE_UP_S = 0.2
_TOLD_BY = {"notify", "indicate"}

Backend = type[BaseBleakClient] | None
_T = TypeVar("_T")


class Found(Struct, frozen=True, kw_only=True):
    """An instrument, or anything else, that said it was there: `strength_dbm` nearer zero is nearer."""

    address: str
    name: str
    strength_dbm: int


@contextmanager
def translated() -> Iterator[None]:
    """What the library raises, as what a cable raises."""
    try:
        yield
    except BleakDeviceNotFoundError as error:
        raise OSError(errno.EHOSTDOWN, "not in reach") from error
    except BleakBluetoothNotAvailableError as error:
        raise OSError(errno.ENETDOWN, str(error)) from error
    except BleakCharacteristicNotFoundError as error:
        raise OSError(errno.EADDRNOTAVAIL, str(error)) from error
    except TimeoutError as error:
        raise OSError(errno.EHOSTDOWN, "no answer") from error
    except (BleakError, EOFError) as error:
        raise OSError(errno.EREMOTEIO, str(error)) from error
    except (FileNotFoundError, ConnectionRefusedError) as error:
        # The system's bus is not there, and with it no Bluetooth service.
        raise OSError(errno.ENETDOWN, str(error)) from error


def address_of(port: str) -> str:
    """The address in a port's name."""
    return port.removeprefix(RADIO)


def found_by_radio(look_s: float = LOOK_S, told: Told = nobody) -> tuple[Found, ...]:
    """Everything with a name that says it is there, the nearest first; blocks, and says how far it is. Raises OSError
    where no radio works."""
    with translated():
        seen = asyncio.run(_told_while(BleakScanner.discover(look_s, return_adv=True), look_s, told))
    found = [
        Found(address=address, name=advertised.local_name or device.name or "", strength_dbm=advertised.rssi)
        for address, (device, advertised) in seen.items()
    ]
    return tuple(sorted((one for one in found if one.name), key=lambda one: -one.strength_dbm))


def heard_by_radio(
    port: str,
    seconds: float,
    enough: Callable[[Mapping[RadioPlace, list[bytes]]], bool],
    *,
    backend: Backend = None,
    told: Told = nobody,
) -> Mapping[RadioPlace, list[bytes]]:
    """Connect, and hear whatever notifies for so long or until it is `enough`; what each place said, and an empty list
    for one that was silent. Blocks, and says how far it is. Raises OSError."""
    hearing = _hear(address_of(port), seconds, enough, backend)
    with translated():
        return asyncio.run(_told_while(hearing, CONNECT_S + seconds, told))


async def _told_while(deed: Coroutine[Any, Any, _T], seconds: float, told: Told) -> _T:
    """Do it, and say how much of the time that it may take is gone; what `told` raises ends it."""
    task, began_s = asyncio.ensure_future(deed), time.monotonic()
    try:
        while not task.done():
            told(min(int(1000 * (time.monotonic() - began_s)), int(1000 * seconds)), int(1000 * seconds))
            await asyncio.wait({task}, timeout=GIVE_UP_S)
        return task.result()
    finally:
        if not task.done():
            task.cancel()
            with suppress(asyncio.CancelledError):
                await task


async def _hear(
    address: str, seconds: float, enough: Callable[[Mapping[RadioPlace, list[bytes]]], bool], backend: Backend
) -> Mapping[RadioPlace, list[bytes]]:
    heard: dict[RadioPlace, list[bytes]] = {}
    news = asyncio.Event()
    async with _connected(address, backend, news.set) as client:
        for characteristic in client.services.characteristics.values():
            if not _TOLD_BY & set(characteristic.properties):
                continue
            said = heard.setdefault(
                RadioPlace(service=characteristic.service_uuid, characteristic=characteristic.uuid), []
            )

            def came(_sender: object, data: bytearray, said: list[bytes] = said) -> None:
                said.append(bytes(data))
                news.set()

            await client.start_notify(characteristic, came)
        until_s = time.monotonic() + seconds
        while client.is_connected and not enough(heard) and (left_s := until_s - time.monotonic()) > 0.0:
            news.clear()
            try:
                await asyncio.wait_for(news.wait(), left_s)
            except TimeoutError:
                break
    return heard


@asynccontextmanager
async def _connected(address: str, backend: Backend, gone: Callable[[], None]) -> AsyncIterator[BleakClient]:
    client = BleakClient(address, lambda _client: gone(), timeout=CONNECT_S, backend=backend)
    await client.connect()
    try:
        yield client
    finally:
        await client.disconnect()


class RadioCable:
    """A subscription to one characteristic; `giving_up` set while it is opened raises ECANCELED."""

    def __init__(
        self,
        address: str,
        place: RadioPlace,
        *,
        packets: bool,
        giving_up: threading.Event,
        backend: Backend = None,
    ) -> None:
        self._address = address
        self._place = place
        self._packets = packets
        self._backend = backend
        self._ours, self._theirs = socket.socketpair()
        self._theirs.setblocking(False)
        self._ours.setblocking(False)
        self._open = threading.Event()
        self._failed: Exception | None = None
        self._loop = asyncio.new_event_loop()
        self._ended = asyncio.Event()
        self._thread = threading.Thread(target=self._run, name=f"radio {address}", daemon=True)
        self._thread.start()
        while not self._open.wait(GIVE_UP_S):
            if giving_up.is_set():
                self._failed = OSError(errno.ECANCELED, "given up")
                break
        if self._failed is not None:
            self.close()
            raise self._failed

    def fileno(self) -> int:
        """Descriptor to wait on."""
        return self._ours.fileno()

    def read(self) -> bytes:
        """What was notified, after the descriptor became readable; raises OSError when the instrument is gone."""
        data = self._ours.recv(1 << 16)
        if not data:
            # What nobody foresaw is not to be taken for an instrument that is far away.
            raise self._failed or OSError(errno.EHOSTDOWN, "not in reach")
        return data

    def write(self, data: bytes) -> None:
        """Nothing: it is only listened to (its settings refuse more)."""

    def close(self) -> None:
        """Unsubscribe and let go; raises nothing."""
        if self._loop.is_running():
            self._loop.call_soon_threadsafe(self._ended.set)
        self._thread.join()
        self._ours.close()

    def _run(self) -> None:
        with asyncio.Runner(loop_factory=lambda: self._loop) as runner:
            try:
                with translated():
                    runner.run(self._live())
            except Exception as error:
                self._failed = error
            finally:
                self._theirs.close()
                self._open.set()

    async def _live(self) -> None:
        """Until the instrument is gone or the cable closed, also in the middle of connecting."""
        subscribed = asyncio.ensure_future(self._subscribed())
        ended = asyncio.ensure_future(self._ended.wait())
        await asyncio.wait({subscribed, ended}, return_when=asyncio.FIRST_COMPLETED)
        ended.cancel()
        subscribed.cancel()
        with suppress(asyncio.CancelledError):
            await subscribed

    async def _subscribed(self) -> None:
        async with _connected(self._address, self._backend, self._ended.set) as client:
            service = client.services.get_service(self._place.service)
            characteristic = service and service.get_characteristic(self._place.characteristic)
            if not characteristic:
                raise BleakCharacteristicNotFoundError(self._place.characteristic)
            await client.start_notify(characteristic, self._came)
            self._open.set()
            await self._ended.wait()

    def _came(self, _sender: object, data: bytearray) -> None:
        packet = bytes(data)
        if self._packets:
            packet = packet_line(packet[: MOST_BYTES + 1])
        try:
            self._theirs.send(packet)
        except BlockingIOError:
            # Nobody reads; half a line would be worse than none.
            return


class RadioLink(CableLink):
    """An InstrumentLink on Bluetooth Low Energy."""

    def __init__(
        self,
        settings: InstrumentSettings,
        *,
        clock: Callable[[], float] = time.monotonic,
        tap: Tap | None = None,
        backend: Backend = None,
    ) -> None:
        place = settings.radio
        if place is None:
            raise ValueError(f"{settings.name} is not on radio")
        super().__init__(
            settings,
            lambda: RadioCable(
                address_of(settings.port),
                place,
                packets=settings.format.packets,
                giving_up=self.closing,
                backend=backend,
            ),
            clock=clock,
            tap=tap,
            reopen_s=REOPEN_S,
        )
