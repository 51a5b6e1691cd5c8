"""What is heard, and that it is: cues from snapshots, words by the real synthesiser, sound through the real player."""

from __future__ import annotations

import shutil
import threading
from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace

from core.errors import NotAvailableError
from core.geometry.features import DIAGONALS, Feature
from core.machine.procedure import Stage
from core.machine.sound_file import read_wav
from core.said import Name
from firmware_bridge.byte_link import LinkChanged, LinkState
from hardware.panel import RHYTHMS, Rhythm
from hardware.sound_devices import SoundDevice
from tests.patience import WAIT_S
from tests.ui.bench_bits import SKEWED, BenchUnderTest, quantity_name, running_bench
from tests.ui.scenes import SCENES
from ui.bench.desks.measuring import VoidReading
from ui.bench.desks.settings import ChangeSettings
from ui.bench.hearing import FAR_HZ, GOAL_HZ, METER_EVERY_S, Cue, Hearing, Tone, meter_cue, tones
from ui.bench.workers import speaker as sounding
from ui.bench.workers.speaker import RATE_HZ, Samples, Speaker, SpeakerRefused, samples_of
from ui.pages.setup import changed
from ui.speech.language import Language
from ui.speech.notation import DecimalMark, LengthUnit, Notation
from ui.speech.spoken import spoken
from ui.state.settings import Audible, Settings
from ui.state.snapshot import Snapshot


class Kept:
    """A loudspeaker that keeps what it was given."""

    def __init__(self) -> None:
        self.cues: list[Cue] = []

    def hear(self, cue: Cue) -> None:
        self.cues.append(cue)


@pytest.fixture
def heard(tmp_path: Path):
    kept = Kept()
    with running_bench(tmp_path, loudspeaker=kept) as running:
        yield running, kept


def choose(running: BenchUnderTest, **given: object) -> Snapshot:
    running.bench.send(ChangeSettings(settings=replace(running.pump().settings, **given)))
    return running.pump()


def measure(running: BenchUnderTest, feature: Feature) -> Snapshot:
    running.indicate(SKEWED[feature], instrument=quantity_name(feature), pressed=True)
    return running.settled()


def test_nothing_is_heard_unless_it_was_asked_for(heard) -> None:
    running, kept = heard
    assert Settings().audible is Audible.SILENT
    running.open()
    measure(running, Feature.NL_FR)
    assert kept.cues == []


def test_whoever_switches_it_on_hears_it(heard) -> None:
    running, kept = heard
    choose(running, audible=Audible.SOUNDS)
    assert kept.cues == [Cue(tones=tones(Rhythm.TAKEN))]
    assert changed(Settings(), "speaker", "spoken") == Settings(audible=Audible.SPOKEN)


@pytest.mark.parametrize(
    ("notation", "language", "words"),
    [
        (Notation(), Language.ENGLISH, "one four three point six two"),
        (Notation(mark=DecimalMark.COMMA), Language.GERMAN, "eins vier drei Komma sechs zwei"),
        (Notation(), Language.GERMAN, "eins vier drei Komma sechs zwei"),
        (Notation(lengths=LengthUnit.INCH), Language.ENGLISH, "five point six five four three"),
    ],
)
def test_a_reading_is_read_out_once_it_is_on_the_disk(
    heard, notation: Notation, language: Language, words: str
) -> None:
    running, kept = heard
    running.open()
    choose(running, audible=Audible.SPOKEN, notation=notation, language=language)
    kept.cues.clear()
    running.indicate(SKEWED[Feature.NL_FR], pressed=True)
    running.pump()
    running.settled()
    (cue,) = kept.cues
    assert " ".join(cue.words) == words
    assert (cue.tones, cue.language) == (tones(Rhythm.TAKEN), language)
    assert str(running.pump().message.text).startswith("Accepted"), "what is heard is seen as well"


def test_sounds_alone_read_nothing_out(heard) -> None:
    running, kept = heard
    running.open()
    choose(running, audible=Audible.SOUNDS)
    measure(running, Feature.NL_FR)
    assert [cue.words for cue in kept.cues] == [(), ()]


def test_refused_and_settled_are_heard_by_the_lamp_boxs_rhythms(heard) -> None:
    running, kept = heard
    running.open()
    choose(running, audible=Audible.SPOKEN)
    running.bench.send(VoidReading(number=99, reason="slipped"))
    running.pump()
    assert kept.cues[-1] == Cue(tones=tones(Rhythm.REFUSED))
    for feature in (*DIAGONALS, *DIAGONALS):
        running.now_s += 5.0
        measure(running, feature)
    assert running.pump().evaluation.settled
    last = kept.cues[-1]
    assert last.tones == tones(Rhythm.NO_GO)
    assert last.words, "the reading that settled it is read out all the same"


def test_a_refusal_is_heard_though_a_cable_speaks_in_the_same_turn(heard) -> None:
    running, kept = heard
    running.open()
    choose(running, audible=Audible.SOUNDS)
    running.bench.send(VoidReading(number=99, reason="slipped"))
    running.bench.post(LinkChanged(instrument="caliper", state=LinkState.UP, text=Name("open")))
    now = running.pump()
    assert [message.alarm for message in now.messages[-2:]] == [True, False]
    assert kept.cues[-1] == Cue(tones=tones(Rhythm.REFUSED))
    assert now.said_since(now) == ()
    running.bench.send(ChangeSettings(settings=replace(now.settings, language=Language.GERMAN)))
    running.pump()
    assert len(kept.cues) == 2, "what was said once is not said again"


@pytest.mark.parametrize("word", Rhythm)
def test_tones_have_the_lengths_of_the_rhythm(word: Rhythm) -> None:
    sounded = [tone.seconds for tone in tones(word) if tone.hz]
    assert tuple(sounded) == RHYTHMS[word]
    assert len({tone.hz for tone in tones(word)} - {0.0}) == 1


def setting_by_hand(gap_mm: float | None) -> Snapshot:
    scene = SCENES["set"]()
    return replace(scene, live_length=replace(scene.live_length, value=gap_mm))


def test_the_null_meter_rises_to_the_goal_and_says_when_it_is_there() -> None:
    start = setting_by_hand(None)
    guided = start.machines.guided
    assert guided is not None
    assert guided.stage is Stage.SET
    meter = guided.to_go()
    stop_mm, away_mm = meter.stop_at_mm, -meter.gap_to_go_mm
    heard_hz = []
    before = start
    for left in (1.0, 0.75, 0.5, 0.25, 0.1):
        now = setting_by_hand(stop_mm + left * away_mm)
        cue = meter_cue(before, now)
        assert cue is not None
        assert cue.passing
        (tone,) = cue.tones
        heard_hz.append(tone.hz)
        before = now
    assert heard_hz == sorted(heard_hz)
    assert heard_hz[0] == pytest.approx(FAR_HZ, rel=0.01)
    assert heard_hz[-1] < GOAL_HZ / 1.9
    there = meter_cue(before, setting_by_hand(stop_mm))
    assert [tone.hz for tone in there.tones] == [GOAL_HZ, 0.0, GOAL_HZ]
    past = meter_cue(before, setting_by_hand(stop_mm - 0.25 * away_mm))
    assert past.tones[0].hz == pytest.approx(heard_hz[3], rel=0.05), "overshoot sounds as far as it is"
    assert meter_cue(before, setting_by_hand(stop_mm + 5.0 * away_mm)) is None, "the jaws are elsewhere"
    assert meter_cue(before, before) is None, "what does not move is silent"


def test_the_null_meter_sounds_at_its_own_rate() -> None:
    kept, now_s = Kept(), [0.0]
    hearing = Hearing(kept, lambda: now_s[0])
    start = setting_by_hand(None)
    meter = start.machines.guided.to_go()
    before = replace(start, settings=replace(start.settings, audible=Audible.SOUNDS))
    for step in range(100):
        now_s[0] += 1.01 * METER_EVERY_S / 10.0
        gap_mm = meter.stop_at_mm - meter.gap_to_go_mm * (1.0 - step / 200.0)
        now = replace(before, live_length=replace(before.live_length, value=gap_mm))
        hearing.follow(before, now)
        before = now
    assert len(kept.cues) == 10


@pytest.mark.parametrize(
    ("figures", "language", "words"),
    [
        ("119.85", Language.ENGLISH, "one one nine point eight five"),
        ("119,85", Language.ENGLISH, "one one nine point eight five"),
        ("−0.35°", Language.GERMAN, "minus null Komma drei fünf Grad"),
        ("89°36′", Language.ENGLISH, "eight nine degrees three six minutes"),
    ],
)
def test_figures_have_words(figures: str, language: Language, words: str) -> None:
    assert " ".join(spoken(figures, language)) == words


class Played:
    """A player that takes its time."""

    def __init__(self, *, gate: bool = False) -> None:
        self.heard: list[Samples] = []
        self.began = threading.Semaphore(0)
        self.go_on = threading.Semaphore(0)
        self._gate = gate

    def __call__(self, samples: Samples) -> None:
        self.heard.append(samples)
        self.began.release()
        if self._gate:
            assert self.go_on.acquire(timeout=WAIT_S)


def cue(hz: float, *, passing: bool = False) -> Cue:
    return Cue(tones=(Tone(hz=hz, seconds=0.1),), passing=passing)


def main_hz(samples: Samples) -> float:
    spectrum = np.abs(np.fft.rfft(samples))
    return float(np.argmax(spectrum)) * RATE_HZ / len(samples)


def test_a_speaker_that_hangs_holds_nobody_up_and_the_newest_that_matters_is_heard() -> None:
    played = Played(gate=True)
    speaker = Speaker(play=played)
    speaker.hear(cue(500.0))
    assert played.began.acquire(timeout=WAIT_S)
    for hz in (600.0, 700.0, 800.0):
        speaker.hear(cue(hz))
    speaker.hear(cue(900.0, passing=True))  # gives way to what waits
    played.go_on.release()
    assert played.began.acquire(timeout=WAIT_S)
    played.go_on.release()
    speaker.close()
    assert [main_hz(samples) for samples in played.heard] == pytest.approx([500.0, 800.0], rel=0.02)
    speaker.hear(cue(500.0))
    assert len(played.heard) == 2, "a closed one is silent"


def test_what_cannot_be_sounded_is_said_once_and_the_thread_goes_on() -> None:
    posted: list[SpeakerRefused] = []
    tried = threading.Semaphore(0)

    def play(_samples: Samples) -> None:
        tried.release()
        raise NotAvailableError("no card")

    speaker = Speaker(play=play)
    speaker.start(posted.append)  # type: ignore[arg-type]
    for _ in range(3):
        speaker.hear(cue(500.0))
        assert tried.acquire(timeout=WAIT_S)
    speaker.close()
    assert [str(report.text) for report in posted] == ["no card"]


def test_a_tone_is_what_it_says_and_does_not_click() -> None:
    samples = samples_of(Tone(hz=1200.0, seconds=0.5))
    assert len(samples) == RATE_HZ // 2
    assert main_hz(samples) == pytest.approx(1200.0, abs=3.0)
    assert float(np.max(np.abs(np.diff(samples)[:3]))) < 0.05
    assert abs(float(samples[-1])) < 0.1


needs_synthesiser = pytest.mark.skipif(
    shutil.which("espeak-ng") is None, reason="needs the synthesiser: apt-get install espeak-ng"
)
needs_player = pytest.mark.skipif(shutil.which("aplay") is None, reason="needs the player: apt-get install alsa-utils")


@needs_synthesiser
@pytest.mark.parametrize("language", Language)
def test_every_figure_is_spoken_by_the_real_synthesiser_each_another_word(language: Language) -> None:
    played = Played()
    speaker = Speaker(play=played)
    lengths = []
    for figure in "0123456789.−°′″":
        speaker.hear(Cue(tones=(), words=spoken(figure, language), language=language))
        assert played.began.acquire(timeout=WAIT_S)
        samples = played.heard[-1]
        assert 0.1 < len(samples) / RATE_HZ < 1.5, figure
        assert float(np.max(np.abs(samples))) > 0.4, figure
        lengths.append(samples)
    speaker.close()
    alike = [(one, other) for one in range(10) for other in range(one) if np.array_equal(lengths[one], lengths[other])]
    assert not alike


@needs_synthesiser
@needs_player
def test_a_reading_goes_through_the_real_player_into_a_sound_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sound system's own device that writes what it is given: this machine may have no card."""
    configuration = tmp_path / "alsa.conf"
    configuration.write_text(
        "pcm.!default { type file slave.pcm null file " + str(tmp_path / "heard.wav") + " format wav }\n"
        "pcm.null { type null }\n"
    )
    monkeypatch.setenv("ALSA_CONFIG_PATH", str(configuration))
    posted: list[SpeakerRefused] = []
    done = threading.Event()

    def play(samples: Samples) -> None:
        sounding.played(samples)
        done.set()

    speaker = Speaker(play=play)
    speaker.start(posted.append)  # type: ignore[arg-type]
    words = spoken("143.62", Language.GERMAN)
    speaker.hear(Cue(tones=tones(Rhythm.TAKEN), words=words, language=Language.GERMAN))
    assert done.wait(WAIT_S), posted
    speaker.close()
    recording = read_wav(tmp_path / "heard.wav")
    assert recording.rate_hz == RATE_HZ
    assert 2.0 < len(recording.samples) / RATE_HZ < 6.0
    assert main_hz(recording.samples[: int(0.1 * RATE_HZ)]) == pytest.approx(1200.0, abs=15.0)
    assert not posted


@needs_player
def test_the_player_is_told_which_card_the_speaker_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As the sound system's own default device asks for it."""
    monkeypatch.setattr(sounding, "sound_devices", lambda: (SoundDevice(card=31, number=0, name="USB Audio"),))
    configuration = tmp_path / "alsa.conf"
    card = "{ @func getenv vars [ ALSA_CARD ] default none }"
    file = f'{{ @func concat strings [ "{tmp_path}/card-" {card} ] }}'
    configuration.write_text(
        f"pcm.!default {{ type file slave.pcm null format wav file {file} }}\npcm.null {{ type null }}\n"
    )
    monkeypatch.setenv("ALSA_CONFIG_PATH", str(configuration))
    monkeypatch.delenv("ALSA_CARD", raising=False)
    sounding.played(samples_of(Tone(hz=500.0, seconds=0.1)))
    assert [path.name for path in tmp_path.glob("card-*")] == ["card-31"]


@needs_player
def test_without_a_card_the_player_says_why(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    configuration = tmp_path / "alsa.conf"
    configuration.write_text("pcm.!default { type hw card 31 }\n")
    monkeypatch.setenv("ALSA_CONFIG_PATH", str(configuration))
    with pytest.raises(NotAvailableError, match="nothing is heard from the speaker"):
        sounding.played(samples_of(Tone(hz=500.0, seconds=0.1)))


@pytest.mark.parametrize(("program", "match"), [("aplay", "alsa-utils"), ("espeak-ng", "espeak-ng")])
def test_a_program_that_is_missing_is_named(monkeypatch: pytest.MonkeyPatch, program: str, match: str) -> None:
    monkeypatch.setenv("PATH", "/nowhere")
    wanted = {
        "aplay": lambda: sounding.played(np.zeros(10)),
        "espeak-ng": lambda: sounding.synthesised("one", Language.ENGLISH),
    }
    with pytest.raises(NotAvailableError, match=match):
        wanted[program]()


def test_a_bench_whose_speaker_fails_says_so_once_and_measures_on(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv("PATH", "/nowhere")
    speaker = Speaker()
    with running_bench(tmp_path, loudspeaker=speaker) as running:
        woken = threading.Semaphore(0)
        running.bench.subscribe(woken.release)
        speaker.start(running.bench.post)
        running.open()
        choose(running, audible=Audible.SOUNDS)
        while not ((now := running.pump()).message and "alsa-utils" in str(now.message.text)):
            assert woken.acquire(timeout=WAIT_S)
        measure(running, Feature.NL_FR)
        assert str(running.pump().message.text).startswith("Accepted")
        speaker.close()
