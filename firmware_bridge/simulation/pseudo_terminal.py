"""A cable without hardware: a pseudo-terminal that the ordinary serial link opens by a stable path.

The path is a symbolic link, as /dev/serial/by-id is: pulling the cable hangs the terminal up and removes the link,
plugging it in again makes a new terminal, under another number, behind the same link.
"""

import os
import tty
from pathlib import Path


class PseudoTerminal:
    """The instrument's end of a cable plugged in at `path`; write and read never block."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._instrument_fd: int | None = None
        self._host_fd: int | None = None

    def plug(self) -> None:
        """Plug the cable in; nothing happens when it is."""
        if self._instrument_fd is not None:
            return
        self._instrument_fd, self._host_fd = os.openpty()
        tty.setraw(self._host_fd)
        os.set_blocking(self._instrument_fd, False)
        self.path.unlink(missing_ok=True)
        self.path.symlink_to(os.ttyname(self._host_fd))

    def pull(self) -> None:
        """Pull the cable: whoever reads it sees it hang up."""
        if self._instrument_fd is None or self._host_fd is None:
            return
        self.path.unlink(missing_ok=True)
        os.close(self._instrument_fd)
        # Held open until now only so that the terminal lives while nobody has opened the path.
        os.close(self._host_fd)
        self._instrument_fd = self._host_fd = None

    def write(self, data: bytes) -> None:
        """Send bytes to the host; what it does not read is lost, as on a real cable."""
        if self._instrument_fd is None:
            return
        try:
            os.write(self._instrument_fd, data)
        except BlockingIOError:
            return

    def read(self) -> bytes:
        """Bytes the host sent since the last call, empty when none."""
        if self._instrument_fd is None:
            return b""
        try:
            return os.read(self._instrument_fd, 4096)
        except BlockingIOError:
            return b""
