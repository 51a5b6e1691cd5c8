"""A radio in place of the system's: a backend of the library, by its own base class, that keeps its history.

The library's front end, and with it everything this house calls, is the real one.
"""

from __future__ import annotations

import asyncio
from typing import Any

from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.client import BaseBleakClient, NotifyCallback
from bleak.backends.service import BleakGATTService, BleakGATTServiceCollection
from bleak.exc import BleakBluetoothNotAvailableError, BleakBluetoothNotAvailableReason, BleakDeviceNotFoundError

from firmware_bridge.instrument_settings import RadioPlace

ADDRESS = "C0:DE:00:00:00:07"
SERVICE = "5a7e0001-c0de-4a11-9e55-0123456789ab"
NUMBERS = RadioPlace(service=SERVICE, characteristic="5a7e0002-c0de-4a11-9e55-0123456789ab")
BATTERY = RadioPlace(service=SERVICE, characteristic="5a7e0003-c0de-4a11-9e55-0123456789ab")
SILENT = RadioPlace(service=SERVICE, characteristic="5a7e0004-c0de-4a11-9e55-0123456789ab")


class Air:
    """What is in reach. `history` tells what was done to it."""

    def __init__(self) -> None:
        self.in_reach = True
        self.bluetooth = True
        self.answers = True
        self.fails: Exception | None = None
        self.history: list[str] = []
        self._clients: list[_Client] = []
        air = self

        class Backend(_Client):
            def __init__(self, *args: Any, **kwargs: Any) -> None:
                super().__init__(*args, **kwargs)
                self.air = air

        self.backend = Backend

    def say(self, place: RadioPlace, packet: bytes) -> None:
        """Notify whoever is subscribed; from any thread."""
        for client in tuple(self._clients):
            client.loop.call_soon_threadsafe(client.told, place.characteristic, packet)

    def go(self) -> None:
        """Out of reach."""
        self.in_reach = False
        for client in tuple(self._clients):
            client.loop.call_soon_threadsafe(client.lost)

    def joined(self, client: _Client) -> None:
        self._clients.append(client)

    def left(self, client: _Client) -> None:
        if client in self._clients:
            self._clients.remove(client)


class _Client(BaseBleakClient):
    air: Air
    loop: asyncio.AbstractEventLoop

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._connected = False
        self._callbacks: dict[str, NotifyCallback] = {}

    @property
    def name(self) -> str:
        return "bench caliper"

    @property
    def mtu_size(self) -> int:
        return 23

    @property
    def is_connected(self) -> bool:
        return self._connected

    async def connect(self, pair: bool, **kwargs: Any) -> None:
        self.loop = asyncio.get_running_loop()
        self.air.history.append(f"connect {self.address}")
        if self.air.fails is not None:
            raise self.air.fails
        if not self.air.bluetooth:
            raise BleakBluetoothNotAvailableError("off", BleakBluetoothNotAvailableReason.POWERED_OFF)
        if not self.air.answers:
            await asyncio.Event().wait()
        if not self.air.in_reach:
            raise BleakDeviceNotFoundError(self.address, "not found")
        self.services = BleakGATTServiceCollection()
        service = BleakGATTService(None, 1, SERVICE)
        self.services.add_service(service)
        for handle, place in enumerate((NUMBERS, BATTERY, SILENT), start=2):
            properties: Any = ["read"] if place is SILENT else ["notify", "read"]
            self.services.add_characteristic(
                BleakGATTCharacteristic(None, handle, place.characteristic, properties, lambda: 20, service)
            )
        self._connected = True
        self.air.joined(self)

    async def disconnect(self) -> None:
        self.air.history.append("disconnect")
        self._connected = False
        self.air.left(self)

    async def start_notify(
        self, characteristic: BleakGATTCharacteristic, callback: NotifyCallback, **kwargs: Any
    ) -> None:
        self.air.history.append(f"subscribe {characteristic.uuid}")
        self._callbacks[characteristic.uuid] = callback

    async def stop_notify(self, characteristic: BleakGATTCharacteristic) -> None:
        self._callbacks.pop(characteristic.uuid)

    def told(self, uuid: str, packet: bytes) -> None:
        if uuid in self._callbacks:
            self._callbacks[uuid](bytearray(packet))

    def lost(self) -> None:
        self._connected = False
        self.air.left(self)
        if self._disconnected_callback:
            self._disconnected_callback()

    async def pair(self, *args: Any, **kwargs: Any) -> None:
        raise AssertionError("nobody asked for that")

    async def unpair(self) -> None:
        raise AssertionError("nobody asked for that")

    async def read_gatt_char(self, characteristic: BleakGATTCharacteristic, **kwargs: Any) -> bytearray:
        raise AssertionError("nothing is read")

    async def read_gatt_descriptor(self, descriptor: Any, **kwargs: Any) -> bytearray:
        raise AssertionError("nothing is read")

    async def write_gatt_char(self, characteristic: BleakGATTCharacteristic, data: Any, response: bool) -> None:
        raise AssertionError("nothing is sent to an instrument")

    async def write_gatt_descriptor(self, descriptor: Any, data: Any) -> None:
        raise AssertionError("nothing is sent to an instrument")
