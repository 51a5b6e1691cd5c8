"""Belts heard at the bench: the recorder's thread reports through the queue, the desk compares and logs."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import numpy as np
import pytest

from core.errors import NotAvailableError, StoppedError
from core.machine.machine_log import BeltsCompared
from core.machine.profile import MachineProfile
from core.machine.sound_file import Recording
from core.progress import Told
from core.said import Name
from tests.patience import WAIT_S
from tests.ui.bench_bits import running_bench
from ui.bench.desks.belts import ListenToBelt
from ui.bench.desks.machines import SaveMachine
from ui.bench.workers.belt_listener import LISTEN_S, BeltHeard, BeltListener, RecordFor, record
from ui.state.messages import Report

RATE_HZ = 16000.0


def plucked(f_hz: float) -> Recording:
    t = np.arange(int(RATE_HZ)) / RATE_HZ
    sound = sum(np.sin(2 * np.pi * f_hz * n * t) * np.exp(-t * n / 0.4) / n**2 for n in range(1, 6))
    return Recording(samples=np.concatenate([np.zeros(8000), sound]), rate_hz=RATE_HZ)


def heard_by(record_for: RecordFor, *, first: bool) -> BeltHeard:
    """What a listener posts; it must come from another thread than ours."""
    posted: list[BeltHeard] = []
    done = threading.Event()
    threads: list[str] = []

    def post(report: Report) -> None:
        if isinstance(report, BeltHeard):
            threads.append(threading.current_thread().name)
            posted.append(report)
            done.set()

    BeltListener(post, record_for)(first)
    assert done.wait(WAIT_S)
    assert threads == ["belt listener"]
    return posted[0]


def test_a_note_is_posted_with_its_belt() -> None:
    asked: list[int] = []

    def record_for(seconds: int, _told: Told) -> Recording:
        asked.append(seconds)
        return plucked(92.0)

    heard = heard_by(record_for, first=True)
    assert asked == [LISTEN_S]
    assert heard.first
    assert heard.note is not None
    assert heard.note.frequency_hz.value == pytest.approx(92.0, rel=0.003)
    assert str(heard.text).startswith("92.0 ±")


def test_silence_and_no_microphone_are_words() -> None:
    silent = Recording(samples=np.zeros(16000), rate_hz=RATE_HZ)
    assert "Heard nothing" in str(heard_by(lambda _seconds, _told: silent, first=False).text)

    def absent(_seconds: int, _told: Told) -> Recording:
        raise NotAvailableError("no sound recorder here")

    assert heard_by(absent, first=False) == BeltHeard(first=False, note=None, text=Name("no sound recorder here"))


def test_the_bench_compares_and_logs(tmp_path: Path) -> None:
    with running_bench(tmp_path) as under_test:
        bench = under_test.bench
        bench.send(SaveMachine(profile=MachineProfile(name="router", span_mm=640.0)))
        under_test.settled()
        for first, f_hz in ((True, 92.0), (False, 80.0)):
            bench.send(heard_by(lambda _seconds, _told, f_hz=f_hz: plucked(f_hz), first=first))
        snapshot = under_test.settled()
        assert "the first belt is tighter by 32 ±" in str(snapshot.belts.text)
        assert snapshot.message is not None
        assert str(snapshot.message.text) == str(snapshot.belts.text)
        payload = snapshot.machines.log[-1].payload
        assert isinstance(payload, BeltsCompared)
        assert payload.first_hz == pytest.approx(92.0, rel=0.003)


def test_one_recording_at_a_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    gate = tmp_path / "arecord.gate"
    os.mkfifo(gate)
    recorder = tmp_path / "arecord"
    recorder.write_text('#!/bin/sh\necho started >> "$0.log"\nread -r line < "$0.gate"\necho gone >&2\nexit 1\n')
    recorder.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    with running_bench(tmp_path / "bench") as under_test:
        arrived = threading.Event()
        under_test.bench.send(ListenToBelt(first=True))
        assert under_test.pump().belts.listening
        under_test.bench.send(ListenToBelt(first=False))
        assert under_test.pump().belts.listening
        under_test.bench.subscribe(arrived.set)
        gate.write_text("go\n")
        while (belts := under_test.pump().belts).listening:
            assert arrived.wait(WAIT_S)
            arrived.clear()
        assert not belts.listening
        assert str(belts.text) == "no recording from the microphone: gone"
    assert (tmp_path / "arecord.log").read_text() == "started\n"


def test_a_recording_is_stopped_and_the_recorder_with_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    recorder = tmp_path / "arecord"
    recorder.write_text('#!/bin/sh\necho $$ > "$0.pid"\nexec cat "$0.gate"\n')
    recorder.chmod(0o755)
    os.mkfifo(tmp_path / "arecord.gate")
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")

    def told(done: int, of: int) -> None:
        if done:  # a second has passed
            raise StoppedError

    with pytest.raises(StoppedError):
        record(LISTEN_S, told)
    with pytest.raises(ProcessLookupError):
        os.kill(int((tmp_path / "arecord.pid").read_text()), 0)
