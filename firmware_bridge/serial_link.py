"""A serial port as a cable. Every exception of the serial library is translated to an OSError here and nowhere else."""

import errno
import os
import re
import select
import termios
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import serial

from firmware_bridge.wire_formats import Framing

WRITE_S = 0.5
READ_BYTES = 4096  # what a terminal holds for a reader (N_TTY_BUF_SIZE of Linux)
PSEUDO_TERMINALS = Path("/dev/pts")


@contextmanager
def translated() -> Iterator[None]:
    """A pulled cable makes the library raise a bare OSError (kept), its own OSError, with its number in the text if at
    all, or a termios.error, which is no OSError; a speed the port has not, a ValueError."""
    try:
        yield
    except serial.SerialTimeoutException as error:
        raise OSError(errno.ETIMEDOUT, "the port takes no bytes") from error
    except serial.SerialException as error:
        number = re.search(r"\((\d+),", str(error))
        raise OSError(error.errno or (int(number[1]) if number else errno.EIO), str(error)) from error
    except termios.error as error:
        raise OSError(*error.args) from error
    except ValueError as error:
        raise OSError(errno.EINVAL, str(error)) from error


class SerialCable:
    """A port opened for this program alone; reads return at once with what there is."""

    def __init__(self, path: str, line: Framing) -> None:
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
        self._port = port
        with translated():
            port.open()

    def fileno(self) -> int:
        """Descriptor to wait on."""
        return int(self._port.fileno())

    def read(self) -> bytes:
        """The bytes there are, after the descriptor became readable; raises OSError when the cable is gone."""
        # Not by the library, which asks how many there are, and waits once more: fifty times a second from each cable.
        try:
            data = os.read(self._port.fd, READ_BYTES)
        except BlockingIOError:
            return b""
        if not data:
            raise OSError(errno.EIO, "the port is readable and says nothing: it was hung up")
        return data

    def read_within(self, wait_s: float) -> bytes:
        """Wait for bytes; empty when none came."""
        ready, _, _ = select.select([self.fileno()], [], [], wait_s)
        return self.read() if ready else b""

    def write(self, data: bytes) -> None:
        """Send bytes; raises OSError when the cable is gone or takes none."""
        with translated():
            self._port.write(data)

    def close(self) -> None:
        """Free the descriptor, whatever has become of the device."""
        try:
            with translated():
                self._port.close()
        except OSError:
            self._port.fd = None
