"""The privileged helper over real sockets: form of requests, who may ask, what each verb does on folders of our own."""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pytest
from hypothesis import given, strategies as st

from core.errors import BadInputError, NotAvailableError
from core.said import Part, said
from core.said_wire import of_line
from hardware.gadget_setup import set_up_gadget
from hardware.helper_client import Request, Verb, ask_helper, parse_request
from hardware.privileged_helper import Turns, answer, deeds, main, serve
from hardware.releases import helper_answers
from hardware.root_verbs import RefusedError, RootPlaces, mount_stick, run_tool, set_clock, swap_image, unmount_stick
from tests.patience import WAIT_S

GOOD = [
    Request(verb=Verb.ARE_YOU_THERE),
    Request(verb=Verb.MOUNT_STICK, words=("sda1", "rw")),
    Request(verb=Verb.UNMOUNT_STICK),
    Request(verb=Verb.SWAP_IMAGE, words=("records-2.img",)),
    Request(verb=Verb.SWAP_IMAGE, words=("none",)),
    Request(verb=Verb.SET_CLOCK, words=("2026-11-25T08:00:00Z",)),
    Request(verb=Verb.POWER_OFF),
    Request(verb=Verb.LOOK_FOR_UPDATE, words=("sda1",)),
    Request(verb=Verb.INSTALL_UPDATE, words=("0.2.0",)),
    Request(verb=Verb.GO_BACK),
]


@pytest.mark.parametrize("request_", GOOD, ids=lambda request: request.verb)
def test_what_is_written_is_read_back(request_: Request) -> None:
    assert parse_request(request_.line()) == request_


@pytest.mark.parametrize(
    "line",
    [
        b"", b"\n", b"mount-stick sda1 rw", b"mount-stick sda1\n", b"mount-stick sda1 rw ro\n",
        b"mount-stick  sda1 rw\n",
        b"mount-stick ../sda rw\n", b"mount-stick mmcblk0p1 rw\n", b"mount-stick sda1 rw,suid\n",
        b"MOUNT-STICK sda1 rw\n", b"mount-stick sda1 rw\r\n", b"power-off\npower-off\n", b"power-off now\n",
        b"swap-image ../../etc/shadow.img\n", b"swap-image /etc/shadow\n", b"swap-image a.img;reboot\n",
        b"set-clock tomorrow\n", b"set-clock 1999-01-01T00:00:00Z\n", b"sh -c reboot\n", b"power-off\xff\n",
        b"power-off" + b" " * 300 + b"\n",
        b"look-for-update /dev/sda1\n", b"look-for-update\n", b"install-update ../../tmp/x\n", b"install-update 2\n",
        b"install-update 0.2.0 --force\n", b"go-back 0.1.0\n",
    ],
)  # fmt: skip
def test_anything_but_the_exact_form_is_refused(line: bytes) -> None:
    with pytest.raises(BadInputError):
        parse_request(line)


@given(st.binary(max_size=300))
def test_no_bytes_do_more_than_be_refused(line: bytes) -> None:
    try:
        request = parse_request(line)
    except BadInputError:
        return
    assert request.line() == line


@pytest.fixture
def places(tmp_path: Path) -> RootPlaces:
    (tmp_path / "images").mkdir()
    return RootPlaces(
        stick=tmp_path / "stick",
        images=tmp_path / "images",
        gadget=tmp_path / "gadget",
        block_devices=tmp_path / "block",
        clock_was_set=tmp_path / "clock-was-set",
        program=tmp_path,
        update_stick=tmp_path / "update-stick",
        update_keys=tmp_path / "update-keys",
    )


@contextmanager
def helper_running(path: Path, allowed: frozenset[int], places: RootPlaces) -> Iterator[None]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listener:
        listener.bind(str(path))
        listener.listen()
        verbs = deeds(places, owner_uid=os.getuid(), owner_gid=os.getgid())
        served = threading.Thread(target=serve, args=(listener, allowed, verbs), kwargs={"idle_s": 0.3})
        served.start()
        try:
            yield
        finally:
            served.join(timeout=WAIT_S)
            assert not served.is_alive()


def test_an_allowed_user_is_answered(tmp_path: Path, places: RootPlaces) -> None:
    path = tmp_path / "helper.sock"
    with helper_running(path, frozenset({os.getuid()}), places):
        assert of_line(ask_helper(Verb.UNMOUNT_STICK, socket_path=path)) == said("no stick was mounted")
        with pytest.raises(NotAvailableError, match="not a USB stick"):
            ask_helper(Verb.MOUNT_STICK, "sdz9", "rw", socket_path=path)


def test_a_verb_that_takes_long_says_how_far_it_is(tmp_path: Path, places: RootPlaces) -> None:
    path = tmp_path / "helper.sock"
    heard: list[Part] = []
    with (
        helper_running(path, frozenset({os.getuid()}), places),
        pytest.raises(NotAvailableError, match="not a USB stick"),
    ):
        ask_helper(Verb.LOOK_FOR_UPDATE, "sdz9", socket_path=path, progress=heard.append)
    assert heard == [said("Reading the stick.")]


def test_any_other_user_is_turned_away(tmp_path: Path, places: RootPlaces) -> None:
    path = tmp_path / "helper.sock"
    with (
        helper_running(path, frozenset({os.getuid() + 1}), places),
        pytest.raises(NotAvailableError, match="may not ask"),
    ):
        ask_helper(Verb.UNMOUNT_STICK, socket_path=path)


def test_a_rude_connection_does_not_stop_the_helper(tmp_path: Path, places: RootPlaces) -> None:
    path = tmp_path / "helper.sock"
    with helper_running(path, frozenset({os.getuid()}), places):
        for rude in (b"", b"\x00" * 5000, b"power-off; reboot\n"):
            with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
                connection.connect(str(path))
                connection.sendall(rude)
        assert of_line(ask_helper(Verb.UNMOUNT_STICK, socket_path=path)) == said("no stick was mounted")


def test_a_silent_connection_is_let_go(places: RootPlaces, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("hardware.privileged_helper.REQUEST_TIMEOUT_S", 0.05)
    ours, theirs = socket.socketpair()
    with ours, theirs:
        answer(theirs, frozenset({os.getuid()}), deeds(places, owner_uid=0, owner_gid=0), Turns())
        assert ours.recv(100) == b'no {"kind": "Name", "text": "timed out"}\n'


def test_without_a_helper_the_client_says_so(tmp_path: Path) -> None:
    with pytest.raises(NotAvailableError, match="does not answer"):
        ask_helper(Verb.POWER_OFF, socket_path=tmp_path / "nobody.sock")


def test_started_by_hand_the_helper_declines(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("LISTEN_PID", raising=False)
    assert main() == 69


def test_a_disk_of_the_machine_itself_is_never_mounted(places: RootPlaces, tmp_path: Path) -> None:
    places.block_devices.mkdir()
    (tmp_path / "devices/pci0/ata1/sda1").mkdir(parents=True)
    (places.block_devices / "sda1").symlink_to(tmp_path / "devices/pci0/ata1/sda1")
    with pytest.raises(RefusedError, match="not a USB stick"):
        mount_stick(places, "sda1", "rw", owner_uid=1000, owner_gid=1000)


@pytest.mark.parametrize(
    ("command", "words"),
    [
        (["/bin/sleep", "60"], "sleep did not end within 1 s"),
        (["/nowhere/tool", "--flag"], "tool could not be run: No such file or directory"),
    ],
)
def test_of_a_tool_the_panel_has_words_for_a_person(command: list[str], words: str) -> None:
    """It read: Command '['/opt/.../cornerwise', '--self-check']' timed out after 100.0 seconds."""
    with pytest.raises(RefusedError) as refused:
        run_tool(command, timeout_s=0.6)
    assert str(refused.value) == words


def test_nothing_mounted_is_nothing_to_unmount(places: RootPlaces) -> None:
    assert unmount_stick(places) == said("no stick was mounted")


def test_the_image_is_swapped_by_descriptor(places: RootPlaces) -> None:
    lun = places.gadget / "functions/mass_storage.usb0/lun.0"
    with pytest.raises(RefusedError, match="shows no USB drive"):
        swap_image(places, "none")
    lun.mkdir(parents=True)
    (places.images / "records-2.img").write_bytes(b"\0" * 512)
    assert swap_image(places, "records-2.img") == str(places.images / "records-2.img")
    assert (lun / "file").read_text().startswith("/proc/self/fd/")
    assert swap_image(places, "none") == ""
    assert (lun / "file").read_text() == "\n"


def test_a_link_to_something_else_is_no_image(places: RootPlaces, tmp_path: Path) -> None:
    (places.gadget / "functions/mass_storage.usb0/lun.0").mkdir(parents=True)
    (tmp_path / "secret").write_text("secret")
    (places.images / "a.img").symlink_to(tmp_path / "secret")
    (places.images / "b.img").mkdir()
    for name in ("a.img", "b.img", "c.img"):
        with pytest.raises(RefusedError, match="image"):
            swap_image(places, name)


def test_the_clock_is_set_once_the_date_is_real(places: RootPlaces) -> None:
    told: list[float] = []
    with pytest.raises(RefusedError, match="no date"):
        set_clock(places, "2026-02-30T08:00:00Z", set_time=told.append)
    assert told == []
    assert not places.clock_was_set.exists()
    set_clock(places, "2026-11-25T08:00:00Z", set_time=told.append)
    # 2026-11-25 is 20782 days after 1970-01-01 (date -u -d 2026-11-25 +%s, GNU coreutils).
    assert told == [20782 * 86400 + 8 * 3600]
    assert places.clock_was_set.exists()


def test_a_board_without_a_device_port_gets_no_gadget(tmp_path: Path) -> None:
    assert set_up_gadget(tmp_path / "gadget", tmp_path / "udc") == ""
    assert not (tmp_path / "gadget").exists()


def test_a_long_verb_hinders_neither_a_mount_nor_power_off(tmp_path: Path) -> None:
    """An update that unpacks for minutes; a second one is told to wait."""
    working, finish = threading.Event(), threading.Event()

    def install(say: Callable[[str], None], version: str) -> str:
        working.set()
        assert finish.wait(WAIT_S)
        return version

    verbs = {
        Verb.INSTALL_UPDATE: install,
        Verb.POWER_OFF: lambda say: "powering off",
        Verb.ARE_YOU_THERE: lambda say: "here",
    }
    with stub_helper(tmp_path / "helper.sock", verbs) as path:
        answers: list[str] = []
        first = threading.Thread(
            target=lambda: answers.append(ask_helper(Verb.INSTALL_UPDATE, "0.2.0", socket_path=path))
        )
        first.start()
        assert working.wait(WAIT_S)
        assert ask_helper(Verb.POWER_OFF, socket_path=path) == "powering off"
        with pytest.raises(NotAvailableError, match="already"):
            ask_helper(Verb.INSTALL_UPDATE, "0.2.0", socket_path=path)
        finish.set()
        first.join(WAIT_S)
        assert answers == ["0.2.0"]


def test_a_verb_that_fails_in_a_new_way_leaves_the_helper_there(tmp_path: Path) -> None:
    def failing(say: Callable[[str], None]) -> str:
        raise RuntimeError("nobody foresaw this")

    verbs = {Verb.POWER_OFF: failing, Verb.ARE_YOU_THERE: lambda say: "cornerwise 0.2.0"}
    with stub_helper(tmp_path / "helper.sock", verbs) as path:
        with pytest.raises(NotAvailableError, match="RuntimeError"):
            ask_helper(Verb.POWER_OFF, socket_path=path)
        assert helper_answers("0.2.0", path)
        assert not helper_answers("0.1.0", path)
    assert not helper_answers("0.2.0", path)


@contextmanager
def stub_helper(path: Path, verbs: Mapping[Verb, Callable[..., str]]) -> Iterator[Path]:
    """The real server with verbs of the test's own."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listener:
        listener.bind(str(path))
        listener.listen()
        allowed = frozenset({os.getuid()})
        served = threading.Thread(target=serve, args=(listener, allowed, verbs), kwargs={"idle_s": 1.0})
        served.start()
        try:
            yield path
        finally:
            served.join(timeout=WAIT_S)
            assert not served.is_alive()


# What systemd itself counts; the bench's own unit has 1.8. Lower is better.
MOST_EXPOSED = {"cornerwise-helper.service": 4.6, "cornerwise-gadget.service": 1.5, "cornerwise-shop.service": 2.0}


@pytest.mark.parametrize("unit", MOST_EXPOSED)
def test_the_units_beside_the_bench_are_no_more_exposed_than_they_must_be(unit: str) -> None:
    """Figures of `systemd-analyze security --offline`, systemd.exec(5)."""
    if shutil.which("systemd-analyze") is None:
        pytest.skip("needs systemd-analyze")
    file = Path(__file__).parents[2] / "hardware" / "systemd" / unit
    command = ["systemd-analyze", "security", "--offline=true", "--no-pager", str(file)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    found = re.search(r"exposure level for \S+: ([0-9.]+)", done.stdout + done.stderr)
    if found is None:
        pytest.skip("this systemd-analyze reads no unit that is not installed")
    assert float(found[1]) <= MOST_EXPOSED[unit]
