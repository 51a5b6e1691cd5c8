"""An instrument on Bluetooth Low Energy, made of BlueZ's own emulator: btvirt gives the kernel two radios that hear
each other, bluetoothd serves an instrument on the second, and what is tested uses the first.

    python -m tests.firmware_bridge.radio_peripheral     serves until standard input ends; each line is notified

Runs as root in a machine that was made for it. Needs Debian's bluez, bluez-test-tools and dbus.
"""

# The bus library reads the annotations below as D-Bus signatures: none may be put off.

import asyncio
import sys

from dbus_fast import BusType, Variant
from dbus_fast.aio import MessageBus, ProxyObject
from dbus_fast.constants import PropertyAccess
from dbus_fast.errors import DBusError, InterfaceNotFoundError
from dbus_fast.service import ServiceInterface, dbus_property, method

SERVICE = "5a7e0001-c0de-4a11-9e55-0123456789ab"
NUMBERS = "5a7e0002-c0de-4a11-9e55-0123456789ab"
NAME = "bench caliper"
ROOT = "/cornerwise/instrument"


class _Service(ServiceInterface):
    def __init__(self) -> None:
        super().__init__("org.bluez.GattService1")

    @dbus_property(access=PropertyAccess.READ)
    def UUID(self) -> "s":  # type: ignore[name-defined] # noqa: F821, N802
        return SERVICE

    @dbus_property(access=PropertyAccess.READ)
    def Primary(self) -> "b":  # type: ignore[name-defined] # noqa: F821, N802
        return True


class _Numbers(ServiceInterface):
    def __init__(self) -> None:
        super().__init__("org.bluez.GattCharacteristic1")
        self.value = b""
        self.wanted = asyncio.Event()

    @dbus_property(access=PropertyAccess.READ)
    def UUID(self) -> "s":  # type: ignore[name-defined] # noqa: F821, N802
        return NUMBERS

    @dbus_property(access=PropertyAccess.READ)
    def Service(self) -> "o":  # type: ignore[name-defined] # noqa: F821, N802
        return f"{ROOT}/service"

    @dbus_property(access=PropertyAccess.READ)
    def Flags(self) -> "as":  # type: ignore[name-defined] # noqa: F722, N802
        return ["notify"]

    @dbus_property(access=PropertyAccess.READ)
    def Value(self) -> "ay":  # type: ignore[name-defined] # noqa: F821, N802
        return self.value

    @method()
    def StartNotify(self):  # type: ignore[no-untyped-def] # noqa: N802
        self.wanted.set()

    @method()
    def StopNotify(self):  # type: ignore[no-untyped-def] # noqa: N802
        self.wanted.clear()

    def say(self, packet: bytes) -> None:
        self.value = packet
        self.emit_properties_changed({"Value": packet})


class _Advertisement(ServiceInterface):
    def __init__(self) -> None:
        super().__init__("org.bluez.LEAdvertisement1")

    @dbus_property(access=PropertyAccess.READ)
    def Type(self) -> "s":  # type: ignore[name-defined] # noqa: F821, N802
        return "peripheral"

    @dbus_property(access=PropertyAccess.READ)
    def LocalName(self) -> "s":  # type: ignore[name-defined] # noqa: F821, N802
        return NAME

    @dbus_property(access=PropertyAccess.READ)
    def ServiceUUIDs(self) -> "as":  # type: ignore[name-defined] # noqa: F722, N802
        return [SERVICE]

    @dbus_property(access=PropertyAccess.READ)
    def Discoverable(self) -> "b":  # type: ignore[name-defined] # noqa: F821, N802
        return True

    @method()
    def Release(self):  # type: ignore[no-untyped-def] # noqa: N802
        return


async def radios(bus: MessageBus) -> tuple[str, str]:
    """The last radio to serve on, the first to be used by what is tested. Of those that the emulator makes the first
    may have come up too slowly for the kernel: there are more than two."""
    for _ in range(120):
        node = await bus.introspect("org.bluez", "/org/bluez")
        names = sorted(one.name for one in node.nodes if one.name)
        if len(names) >= 2:
            return names[-1], names[0]
        await asyncio.sleep(0.5)
    raise SystemExit("fewer than two radios")


async def powered(bus: MessageBus, adapter: str) -> ProxyObject:
    """The radio, switched on; on an emulated processor the daemon takes a while to find it."""
    path = f"/org/bluez/{adapter}"
    for _ in range(60):
        proxy = bus.get_proxy_object("org.bluez", path, await bus.introspect("org.bluez", path))
        try:
            properties = proxy.get_interface("org.freedesktop.DBus.Properties")
            await properties.call_set("org.bluez.Adapter1", "Powered", Variant("b", True))
        except (InterfaceNotFoundError, DBusError):
            await asyncio.sleep(0.5)
            continue
        address = (await properties.call_get("org.bluez.Adapter1", "Address")).value
        print("radio", adapter, address, flush=True)
        return proxy
    raise SystemExit(f"no radio {adapter}")


async def serve() -> None:
    bus = await MessageBus(bus_type=BusType.SYSTEM).connect()
    ours, theirs = await radios(bus)
    await powered(bus, theirs)
    proxy = await powered(bus, ours)
    numbers = _Numbers()
    bus.export(f"{ROOT}/service", _Service())
    bus.export(f"{ROOT}/service/numbers", numbers)
    bus.export(f"{ROOT}/advertisement", _Advertisement())
    await proxy.get_interface("org.bluez.GattManager1").call_register_application(ROOT, {})
    await proxy.get_interface("org.bluez.LEAdvertisingManager1").call_register_advertisement(
        f"{ROOT}/advertisement", {}
    )
    print("serving", flush=True)
    lines = asyncio.StreamReader()
    await asyncio.get_running_loop().connect_read_pipe(lambda: asyncio.StreamReaderProtocol(lines), sys.stdin)
    while line := (await lines.readline()).decode().strip():
        await numbers.wanted.wait()
        numbers.say(bytes.fromhex(line))
        print("said", line, flush=True)


if __name__ == "__main__":
    asyncio.run(serve())
