"""A line to the server that is cut after so many bytes: what a plug pulled, or a radio link lost, does in mid-send."""

from __future__ import annotations

import select
import socket
import threading
from collections.abc import Callable
from contextlib import suppress


class CutLine:
    """Relays one connection after the other from a port of its own to the server's; `cut_after` bytes towards the
    server the connection breaks (None: never), and `at_cut` is called."""

    def __init__(self, server_port: int) -> None:
        self.cut_after: int | None = None
        self.at_cut: Callable[[], None] = lambda: None
        self.cuts = 0
        self._server_port = server_port
        self._listener = socket.create_server(("localhost", 0))
        self.port = int(self._listener.getsockname()[1])
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def close(self) -> None:
        """End it."""
        self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self._thread.join()

    def _serve(self) -> None:
        with suppress(OSError):
            while True:
                client, _address = self._listener.accept()
                with client, suppress(OSError), socket.create_connection(("localhost", self._server_port)) as server:
                    self._relay(client, server)

    def _relay(self, client: socket.socket, server: socket.socket) -> None:
        passed, limit = 0, self.cut_after
        while True:
            ready, _, _ = select.select([client, server], [], [])
            for source in ready:
                data = source.recv(16_384)
                if not data:
                    return
                if source is server:
                    client.sendall(data)
                    continue
                if limit is not None and passed + len(data) >= limit:
                    server.sendall(data[: limit - passed])
                    self.cuts += 1
                    self.at_cut()
                    return
                passed += len(data)
                server.sendall(data)
