"""A capture is saved as it comes and replays to the same events, presses included."""

from __future__ import annotations

import json
import os
import queue
import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest

from core.errors import BadInputError
from core.metrology.readings import Quantity
from firmware_bridge import recording
from firmware_bridge.byte_link import FaultSeen, IndicationArrived, LinkChanged, LinkEvent, LinkState
from firmware_bridge.instrument_settings import InstrumentSettings, Sends
from firmware_bridge.recording import Recorder, ReplayLink, played, read_capture
from tests.patience import WAIT_S

CALIPER = InstrumentSettings(
    name="caliper", port="/dev/x", format_name="length-3.3", quantity=Quantity.LENGTH, sends=Sends.ASKED, poll_s=0.1
)


def recorded(tmp_path: Path) -> Path:
    file = tmp_path / "caliper.capture"
    recorder = Recorder(file, CALIPER, datetime(2026, 1, 2, 3, 4, 5, tzinfo=UTC))
    recorder.sent(b"?\r", 100.0, meant=False)
    recorder.received(b"+012.3", 100.02)
    recorder.received(b"45\r", 100.03)
    recorder.received(b"+012.345\r", 100.05)  # nobody asked: the button
    recorder.received(b"\xff\x00\r", 100.06)
    recorder.sent(b"?\r", 100.1, meant=True)
    recorder.received(b"+012.350\r", 100.12)
    recorder.close()
    return file


def seen(event: LinkEvent) -> tuple[float, bool] | str:
    match event:
        case IndicationArrived(indication=indication):
            return indication.shown, indication.requested
        case FaultSeen(fault=fault):
            return str(fault.reason)
        case LinkChanged(state=state):
            return str(state)


EXPECTED = [(12.345, False), (12.345, True), "garbled", (12.35, True)]


def test_a_capture_plays_to_the_same_events(tmp_path: Path) -> None:
    capture = read_capture(recorded(tmp_path))
    assert capture.settings == CALIPER
    assert [seen(event) for event in played(capture)] == EXPECTED


def test_a_replay_is_a_link_that_keeps_the_pace_and_then_ends(tmp_path: Path) -> None:
    now_s = [50.0]
    waits: list[float] = []

    def wait(closing: threading.Event, seconds: float) -> bool:
        waits.append(round(seconds, 6))
        now_s[0] += seconds
        return closing.is_set()

    events: queue.Queue[LinkEvent] = queue.Queue()
    link = ReplayLink(read_capture(recorded(tmp_path)), lambda: now_s[0], wait)
    link.start(events.put)
    got = [events.get(timeout=WAIT_S) for _ in range(len(EXPECTED) + 2)]
    link.close()
    assert [seen(event) for event in got] == [LinkState.UP, *EXPECTED, LinkState.LOST]
    assert waits == [0.0, 0.02, 0.01, 0.02, 0.01, 0.04, 0.02]


def test_a_replay_that_meets_what_nobody_foresaw_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_args: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(recording, "replayed", fails)
    events: queue.Queue[LinkEvent] = queue.Queue()
    link = ReplayLink(read_capture(recorded(tmp_path)), lambda: 0.0, lambda closing, seconds: False)
    link.start(events.put)
    up, lost = (events.get(timeout=WAIT_S) for _ in range(2))
    link.close()
    assert isinstance(up, LinkChanged)
    assert isinstance(lost, LinkChanged)
    assert (lost.state, str(lost.text)) == (LinkState.LOST, "an error nobody foresaw (ZeroDivisionError)")


def test_a_capture_cut_off_by_a_power_cut_plays_up_to_there(tmp_path: Path) -> None:
    file = recorded(tmp_path)
    file.write_text("".join(file.read_text().splitlines(keepends=True)[:4]))
    assert [seen(event) for event in played(read_capture(file))] == EXPECTED[:1]


@pytest.mark.parametrize(
    ("line", "text", "words"),
    [
        (1, "{}", "line 1: the first line"),
        (3, "nonsense", "line 3"),
        (3, '{"at_s": 1}', "line 3: 'bytes' is missing"),
        (3, '{"at_s": 1, "bytes": "zz"}', "line 3"),
        (3, '{"at_s": -1, "bytes": "00"}', "line 3: the times"),
        (3, '{"at_s": NaN, "bytes": "00"}', "line 3"),
        (3, '{"at_s": 1e300, "bytes": "00"}', "line 3: no capture takes so long"),
        (3, "[" * 100_000, "line 3.*nested too deeply"),
        (1, '{"cornerwise_capture": 1, "settings": {}}', "line 1"),
    ],
)
def test_a_damaged_capture_says_where(line: int, text: str, words: str, tmp_path: Path) -> None:
    file = recorded(tmp_path)
    lines = file.read_text().splitlines()
    lines[line - 1] = text
    file.write_text("\n".join(lines))
    with pytest.raises(BadInputError, match=words):
        read_capture(file)


def test_an_absent_or_empty_capture_says_so(tmp_path: Path) -> None:
    with pytest.raises(BadInputError, match="no-such"):
        read_capture(tmp_path / "no-such")
    for name in ("pipe", "endless"):  # which were waited for, and read, for ever
        if name == "pipe":
            os.mkfifo(tmp_path / name)
        else:
            (tmp_path / name).symlink_to("/dev/zero")
        with pytest.raises(BadInputError, match="no ordinary file"):
            read_capture(tmp_path / name)
    (tmp_path / "empty").touch()
    with pytest.raises(BadInputError, match="at least one line"):
        read_capture(tmp_path / "empty")


def test_every_line_is_plain_json(tmp_path: Path) -> None:
    lines = [json.loads(line) for line in recorded(tmp_path).read_text().splitlines()]
    assert lines[0]["started_utc"] == "2026-01-02T03:04:05+00:00"
    assert lines[1] == {"at_s": 0.0, "sent": "3f0d", "meant": False}
    assert lines[2] == {"at_s": 0.02, "bytes": b"+012.3".hex()}
