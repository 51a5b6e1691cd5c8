"""A real PostgreSQL in a folder of its own, with TLS and an authority made for it; started and stopped by the tests.

Not durable on purpose where the suite starts it (`fsync` off): what is killed here is the server's process, and what it
had acknowledged lies in the kernel's cache. The long proofs start it as it is.
"""

from __future__ import annotations

import os
import pwd
import secrets
import select
import shutil
import signal
import socket
import subprocess
import tempfile
import threading
from contextlib import suppress
from pathlib import Path
from typing import Any

from msgspec.structs import replace

from ui.shop.access import ShopAccess

_OWNER = "postgres"  # the server refuses to run as root


def missing() -> str:
    """Why no server can be started here; empty where one can."""
    if programs() is None:
        return "no PostgreSQL server here (apt-get install postgresql)"
    if shutil.which("openssl") is None:
        return "no openssl here, which makes the server's certificate"
    if os.getuid() == 0 and not any(user.pw_name == _OWNER for user in pwd.getpwall()):
        return "run as root, and there is no user postgres to run the server as"
    return ""


def programs() -> Path | None:
    """The folder with the server's programs, newest version first."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: -int(path.parts[4]))
    if found:
        return found[0].parent
    there = shutil.which("initdb")
    return Path(there).resolve().parent if there else None


class RealServer:
    """One server; `start` again after `stop` or `kill` finds what was committed."""

    def __init__(self, *settings: str, place: Path | None = None) -> None:
        bin_folder = programs()
        assert bin_folder is not None
        self._bin = bin_folder
        self._settings = settings
        self.folder = Path(tempfile.mkdtemp(prefix="cornerwise-shop-", dir=place or _fast_place()))
        self.data = self.folder / "data"
        self.port = _free_port()
        self.authority = _make_certificates(self.folder)
        if os.getuid() == 0:
            owner = pwd.getpwnam(_OWNER)
            for path in (self.folder, *self.folder.iterdir()):
                os.chown(path, owner.pw_uid, owner.pw_gid)
        self._run("initdb", "-D", str(self.data), "-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C", "-N")
        self._configure()
        self.start()

    def start(self) -> None:
        """Start and wait until it answers; a process of ours, so that a killed one is gone and no defunct leader."""
        with (self.folder / "server.log").open("ab") as log:
            self._leader = subprocess.Popen(
                [str(self._bin / "postgres"), "-D", str(self.data)], cwd=self.folder, stdin=subprocess.DEVNULL,
                stdout=log, stderr=log, **_as_owner(),
            )  # fmt: skip
        where = ("-h", str(self.folder), "-p", str(self.port), "-t", "5")
        while self._run("pg_isready", *where, check=False).find("accepting connections") < 0:
            if self._leader.poll() is not None:
                raise AssertionError((self.folder / "server.log").read_text())
            threading.Event().wait(0.05)

    def stop(self) -> None:
        """As an administrator stops it: connections are ended."""
        self._leader.send_signal(signal.SIGINT)
        self._leader.wait()

    def kill(self) -> None:
        """Kill it in the middle of whatever it does, all of its processes."""
        self._leader.send_signal(signal.SIGSTOP)  # it makes no new ones meanwhile
        leader = str(self._leader.pid)
        listed = subprocess.run(["ps", "--ppid", leader, "-o", "pid="], capture_output=True, text=True, check=False)
        for process in map(int, listed.stdout.split()):
            with suppress(ProcessLookupError):
                end = os.pidfd_open(process)
                os.kill(process, signal.SIGKILL)
                select.select([end], [], [])
                os.close(end)
        self._leader.kill()
        self._leader.wait()

    def remove(self) -> None:
        """Stop it where it runs, and leave nothing."""
        if self._leader.poll() is None:
            self._leader.send_signal(signal.SIGQUIT)
            self._leader.wait()
        shutil.rmtree(self.folder, ignore_errors=True)

    def shop(self, template: ShopAccess | None = None) -> ShopAccess:
        """A database with its keeper's access: an empty one, or a copy of another shop, with the same keeper."""
        name, password = f"shop_{secrets.token_hex(4)}", secrets.token_hex(8)
        if template is not None:
            # Who was connected to the template may still be leaving; the copy waits for five seconds only.
            there = f"FROM pg_stat_activity WHERE datname = '{template.database}'"
            self.as_owner(
                "postgres",
                f"SELECT pg_terminate_backend(pid, 60000) {there}",
                f"CREATE DATABASE {name} OWNER {template.role} TEMPLATE {template.database}",
            )
            return replace(template, database=name)
        keeper = f"keeper_{secrets.token_hex(4)}"
        self.as_owner(
            "postgres",
            f"CREATE ROLE {keeper} LOGIN CREATEROLE PASSWORD '{password}'",
            f"CREATE DATABASE {name} OWNER {keeper}",
        )
        return ShopAccess(
            host="localhost",
            port=self.port,
            database=name,
            role=keeper,
            password=password,
            certificate=self.authority.read_text(),
        )

    def as_owner(self, database: str, *statements: str) -> str:
        """What the server's owner asks of it, over its Unix socket."""
        return self._run(
            "psql", "-h", str(self.folder), "-p", str(self.port), "-U", "postgres", "-d", database,
            "-v", "ON_ERROR_STOP=1", "-A", "-t", "-q", *(word for one in statements for word in ("-c", one)),
        ).strip()  # fmt: skip

    def schema(self, shop: ShopAccess) -> list[str]:
        """What a shop's database is, however it came to be so; whoever its keeper is."""
        dumped = self._run(
            "pg_dump", "-h", str(self.folder), "-p", str(self.port), "-U", "postgres", "-d", shop.database, "-s"
        ).replace(shop.role, "keeper")  # fmt: skip
        return [line for line in dumped.splitlines() if line and not line.startswith(("--", "\\"))]

    def _configure(self) -> None:
        lines = (
            "listen_addresses = 'localhost'",
            f"port = {self.port}",
            f"unix_socket_directories = '{self.folder}'",
            "ssl = on",
            f"ssl_cert_file = '{self.folder / 'server.crt'}'",
            f"ssl_key_file = '{self.folder / 'server.key'}'",
            "shared_buffers = 32MB",
            *self._settings,
        )
        self._write(self.data / "postgresql.auto.conf", "\n".join(lines) + "\n")
        self._write(
            self.data / "pg_hba.conf",
            "local all postgres trust\n"
            "hostssl all all 127.0.0.1/32 scram-sha-256\nhostssl all all ::1/128 scram-sha-256\n",
        )

    def _write(self, path: Path, text: str) -> None:
        path.write_text(text)

    def _run(self, program: str, *arguments: str, check: bool = True) -> str:
        done = subprocess.run(
            [str(self._bin / program), *arguments], cwd=self.folder, stdin=subprocess.DEVNULL, text=True,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False, **_as_owner(),
        )  # fmt: skip
        if check and done.returncode:
            raise AssertionError(f"{program}: {done.stdout}")
        return done.stdout


def _as_owner() -> dict[str, Any]:
    return {"user": _OWNER, "group": _OWNER, "extra_groups": []} if os.getuid() == 0 else {}


def _fast_place() -> Path | None:
    """In memory where there is room: a database is hundreds of small files."""
    memory = Path("/dev/shm")
    roomy = memory.is_dir() and os.access(memory, os.W_OK) and shutil.disk_usage(memory).free > 600 * 1024 * 1024
    return memory if roomy else None


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _make_certificates(folder: Path) -> Path:
    """An authority, and a certificate of the server for the name localhost; the authority's file."""
    key = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"]
    authority = ["-keyout", "authority.key", "-out", "authority.crt", "-subj", "/CN=shop authority", "-days", "2"]
    _openssl(folder, "req", "-x509", *key, *authority)
    _openssl(folder, "req", *key, "-keyout", "server.key", "-out", "server.csr", "-subj", "/CN=localhost")
    (folder / "names").write_text("subjectAltName=DNS:localhost\n")
    _openssl(folder, "x509", "-req", "-in", "server.csr", "-CA", "authority.crt", "-CAkey", "authority.key",
             "-CAcreateserial", "-days", "2", "-extfile", "names", "-out", "server.crt")  # fmt: skip
    (folder / "server.key").chmod(0o600)
    return folder / "authority.crt"


def _openssl(folder: Path, *arguments: str) -> None:
    subprocess.run(["openssl", *arguments], cwd=folder, check=True, capture_output=True, stdin=subprocess.DEVNULL)
