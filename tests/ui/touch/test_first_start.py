"""The first start: the language is asked by one key of the bench, and never in the way of a reading."""

from __future__ import annotations

from pathlib import Path

from msgspec.structs import replace

from tests.ui.layout_checks import faults, faults_of_place
from tests.ui.offscreen import Offscreen
from tests.ui.scenes import SCENES
from tests.ui.stand_in_bench import StandInBench
from tests.ui.touching import shown_widgets, tap_text
from ui.bench.desks.settings import ChangeSettings
from ui.speech.language import Language
from ui.speech.notation import DecimalMark, Notation
from ui.state.settings import Settings, SettingsFile


def words(screen: Offscreen) -> set[str]:
    return {widget.read for widget in shown_widgets(screen) if hasattr(widget, "read") and widget.opacity}


def fresh() -> StandInBench:
    return StandInBench(replace(SCENES["empty"](), simulated=False))


def test_the_key_names_the_other_language_in_its_own_words_and_chooses_it() -> None:
    with Offscreen(fresh(), asks_language=True) as screen:
        assert faults(screen) == []
        for size in ((480, 320), (720, 1280)):
            with screen.resized(size):
                assert faults_of_place(screen) == []
        tap_text(screen, "Deutsch")
        assert screen.bench.sent[-1] == ChangeSettings(
            settings=Settings(language=Language.GERMAN, notation=Notation(mark=DecimalMark.COMMA))
        )
        assert "Deutsch" not in words(screen)


def test_it_is_not_asked_later_nor_of_who_has_chosen(tmp_path: Path) -> None:
    with Offscreen(fresh()) as screen:
        assert "Deutsch" not in words(screen)
    with Offscreen(StandInBench(SCENES["restarted"]()), asks_language=True) as screen:
        assert "Deutsch" not in words(screen)
    file = SettingsFile(tmp_path)
    assert file.is_new
    file.save(Settings())
    assert not file.is_new
