"""The bench opens no network socket of any kind, while it measures with every instrument it has."""

from __future__ import annotations

import socket
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TABLES = ("tcp", "tcp6", "udp", "udp6", "raw", "raw6")

pytestmark = pytest.mark.skipif(not Path("/proc/self/net/tcp").exists(), reason="needs Linux's /proc")


def network_sockets(process: str) -> set[str]:
    """Inodes of the internet sockets this process holds."""
    held = set()
    for link in Path(f"/proc/{process}/fd").iterdir():
        try:
            name = str(link.readlink())
        except FileNotFoundError:
            continue  # closed meanwhile
        if name.startswith("socket:["):
            held.add(name.removeprefix("socket:[").removesuffix("]"))
    known = set()
    for table in TABLES:
        path = Path(f"/proc/{process}/net/{table}")
        if path.exists():
            known |= {line.split()[9] for line in path.read_text().splitlines()[1:]}
    return held & known


def test_the_look_itself_sees_a_listener() -> None:
    with socket.create_server(("127.0.0.1", 0)):
        assert network_sockets("self")


def test_a_measuring_bench_holds_no_network_socket(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "ui.command_line.cli", "--simulate", "--text", "--data", str(tmp_path)]
    with subprocess.Popen(command, cwd=ROOT, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True) as bench:
        assert bench.stdout is not None
        looked = 0
        for _line in bench.stdout:
            if bench.poll() is None:
                assert network_sockets(str(bench.pid)) == set()
                looked += 1
            if looked == 6:  # cables open, some readings taken
                bench.kill()
                break
    assert looked == 6
