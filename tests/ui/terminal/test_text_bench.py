"""The bench in the terminal: typed readings, questions, leaving and coming back."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path

from core.geometry.features import Feature
from core.metrology.verdict import Verdict
from core.records.archive import Archive
from core.records.saved_bench import ARCHIVE
from core.records.session import Session
from core.said import Name
from firmware_bridge.byte_link import LinkChanged, LinkState
from tests.ui.bench_bits import SKEWED
from ui.start import BenchOptions, assembled
from ui.state.settings import SettingsFile
from ui.terminal.exit_status import ExitStatus
from ui.terminal.text_bench import MOST_WAITING, TextBench


def run(folder: Path, lines: Iterable[str]) -> tuple[int, str]:
    out = io.StringIO()
    with assembled(BenchOptions(folder=folder)) as bench:
        status = TextBench(bench, out, columns=None).run(lines, quit_at_end=True)
    return status, out.getvalue()


TYPED = [f"{feature} {value}" for feature, value in SKEWED.items()]


def test_a_coupon_typed_in_ends_with_its_verdict(tmp_path: Path) -> None:
    status, shown = run(tmp_path, ["new 120x80", "mark", *TYPED, "close"])
    assert status == ExitStatus.NO_GO
    assert "NO-GO" in shown
    assert "SIMULATED" not in shown


def test_leaving_in_the_middle_loses_nothing(tmp_path: Path) -> None:
    status, shown = run(tmp_path, ["new 120x80", "mark", *TYPED[:1], "quit"])
    assert status == ExitStatus.UNDECIDED
    assert "Left open" in shown
    status, shown = run(tmp_path, [*TYPED[1:], *TYPED, "close"])
    assert "Where you left off" in shown
    assert status == ExitStatus.NO_GO


def test_a_question_is_answered_by_number(tmp_path: Path) -> None:
    _, shown = run(tmp_path, ["new 120x80", "near 144.2", "9", "1", "quit"])
    assert "Which is it?" in shown
    assert "answer with a number from 1 to 3" in shown
    assert "Accepted: diagonal" in shown


def test_what_is_not_understood_is_said_and_nothing_is_taken(tmp_path: Path) -> None:
    _, shown = run(
        tmp_path,
        ["new 120", "new 120x80 zz", "new 120x80", "bogus", "near abc", "near 3 deg", "near nan", "void x", "help"],
    )
    assert "'120' is no size" in shown
    assert "'bogus' is not understood" in shown
    assert "'abc' is not a number" in shown
    assert "'nan' is not a number" in shown
    assert "'deg' is no unit for the near edge" in shown
    assert "say which reading and why" in shown
    assert "orientation mark" in shown
    assert "Accepted" not in shown


def test_the_quick_check_settles_on_two_diagonals_read_twice(tmp_path: Path) -> None:
    diagonals = [line for line in TYPED if line.startswith(("nl-fr", "nr-fl"))]
    status, shown = run(tmp_path, ["new 120x80 mK quick acrylic 27", "mark", *diagonals, *diagonals, "close"])
    assert status == ExitStatus.NO_GO
    assert "Squareness: " in shown
    assert "Size: not judged." in shown


def test_a_word_that_another_reading_may_turn_is_never_said_without_that(tmp_path: Path) -> None:
    """After the first two diagonals the touch bench counts in amber; the text bench said NO-GO as if it were."""
    _, shown = run(tmp_path, ["new 120x80", "nl-fr 145.5", "nr-fl 143.0", "close"])
    told = [line for line in shown.splitlines() if "NO-GO" in line and "not settled" not in line]
    in_table = [line for line in told if " to " in line]
    assert told == in_table
    assert "NO-GO, not settled   Not square" in shown
    _, settled = run(tmp_path / "twice", ["new 120x80", *("nl-fr 145.5", "nr-fl 143.0") * 2])
    assert "NO-GO, settled" in settled


def test_instruments_are_checked_before_measuring(tmp_path: Path) -> None:
    good = ["check caliper 0=0.01,0.01 50.8=50.81", "check gauge 90.2,90.2 90.2,90.2"]
    _, shown = run(tmp_path, ["new 120x80", *good, "check caliper 0=0.30", "quit"])
    assert "Caliper in order; zero error +0.004" in shown
    assert "Angle gauge in order; zero error +0.1" in shown
    assert "press zero" in shown
    archive = Archive.open(tmp_path / ARCHIVE, lambda: datetime(2026, 3, 1, tzinfo=UTC))
    session = Session.from_events(archive.events(archive.sessions()[0].id))
    archive.close()
    assert len(session.gauge_checks) == 2
    assert session.setup.caliper.zero_sd < session.opened.setup.caliper.zero_sd
    assert session.setup.gauge.zero > 0.1


def test_a_check_that_makes_no_sense_is_said(tmp_path: Path) -> None:
    lines = ["new 120x80", "check caliper 0", "check caliper 0=x", "check gauge 45 45", "check gauge a b", "quit"]
    _, shown = run(tmp_path, lines)
    assert shown.count("a check of the caliper reads such as") == 2
    assert "no readings of a square" in shown
    assert "a check of the gauge reads such as" in shown


def test_an_inner_window_tells_kerf_from_scale(tmp_path: Path) -> None:
    undersize = ["near 119.7", "far 119.7", "left 79.7", "right 79.7", "nl-fr 143.8", "nr-fl 143.8"]
    window = ["window-width 60.3", "window-height 40.3"]
    _, shown = run(tmp_path, ["new 120x80 window 60x40", "mark", *undersize, *window, "close"])
    assert "the cut takes 0.30" in shown


def test_the_window_is_the_last_length_that_is_up(tmp_path: Path) -> None:
    with assembled(BenchOptions(folder=tmp_path)) as bench:
        TextBench(bench, io.StringIO(), columns=None).run(
            ["new 120x80 window 60x40", "mark", *TYPED, *TYPED[:6], *TYPED[:6], "quit"], quit_at_end=True
        )
        assert bench.snapshot.next_length is Feature.WINDOW_WIDTH
        assert bench.snapshot.next_corner is None


def test_a_coupon_without_a_window_takes_no_reading_of_one(tmp_path: Path) -> None:
    _, shown = run(tmp_path, ["new 120x80", "window-width 60.3", "window-height", "near 119.9", "quit"])
    assert shown.count("This coupon has no window") == 2
    assert "Accepted: near edge" in shown


def test_own_limits_are_typed_behind_the_size(tmp_path: Path) -> None:
    """A skew of 0.35 degrees puts 0.49 mm on a side of 80 mm, and 0.8 mm between the diagonals."""
    wide, narrow = ["new 120x80 perp=1 diagonal=2"], ["new 120x80 mK diagonal=0,3 perp=1 window 60x40"]
    assert run(tmp_path, [*wide, "mark", *TYPED, "close"])[0] == ExitStatus.of_verdict(Verdict.GO)
    status, shown = run(tmp_path, [*narrow, "mark", *TYPED, "close"])
    assert status == ExitStatus.of_verdict(Verdict.NO_GO)
    assert "limits ISO 2768-mK with own limits" in shown
    _, shown = run(tmp_path, ["new 120x80 square=1", "new 120x80 perp=x", "new 120x80 perp=0", "quit"])
    assert shown.count("a new coupon reads such as") == 1
    assert "'x' is not a number" in shown
    assert "limit of the perpendicularity, 0 mm" in shown


def test_a_new_coupon_that_makes_no_sense_is_said(tmp_path: Path) -> None:
    _, shown = run(tmp_path, ["new 120x80 mK warm", "new 120x80 acrylic", "new 120x80 acrylic 200", "quit"])
    assert shown.count("a new coupon reads such as") == 2
    assert "between −20 and 60 degrees" in shown


def test_inches_and_decimal_commas_are_read(tmp_path: Path) -> None:
    _, shown = run(tmp_path, ["new 120x80", "near 4,7185 inch", "quit"])
    assert "Accepted: near edge 119.85 mm" in shown


def test_the_instruments_are_listed_with_their_last_check_of_an_earlier_session(tmp_path: Path) -> None:
    run(tmp_path, ["new 120x80", "check caliper 0=0.01,0.01", "near 119.85", "close"])
    _, shown = run(tmp_path, ["new 120x80", "instruments", "quit"])
    assert "caliper: on record, not on a cable now" in shown
    assert ", zero +0.003 ± 0.016 mm; 1 session ago. Check again at the start of the day" in shown


def test_the_first_start_names_the_other_language_in_its_own_words(tmp_path: Path) -> None:
    out = io.StringIO()
    with assembled(BenchOptions(folder=tmp_path)) as bench:
        lines = ["set language de", "new 120x80", "quit"]
        TextBench(bench, out, columns=lambda: 80, asks_language=SettingsFile(tmp_path).is_new).run(
            lines, quit_at_end=True
        )
    assert out.getvalue().lstrip().startswith("Deutsch: set language de")
    assert "Neues Probestück" in out.getvalue()
    again = io.StringIO()
    with assembled(BenchOptions(folder=tmp_path)) as bench:
        TextBench(bench, again, columns=lambda: 80, asks_language=SettingsFile(tmp_path).is_new).run(
            ["quit"], quit_at_end=True
        )
    assert "set language" not in again.getvalue()


def test_a_file_is_asked_nothing(tmp_path: Path) -> None:
    _, shown = run(tmp_path, ["quit"])
    assert "set language" not in shown


def test_a_pipe_that_is_faster_than_the_bench_waits_in_the_pipe(tmp_path: Path) -> None:
    """`yes | cornerwise --text`: lines that were read and not yet answered would fill the memory."""
    taken, answered, waiting = 0, 0, []

    class Answers(io.StringIO):
        def write(self, text: str) -> int:
            nonlocal answered
            answered += text.count("not understood")
            waiting.append(taken - answered)
            return len(text)

    def flood() -> Iterator[str]:
        nonlocal taken
        for number in range(1, 3 * MOST_WAITING):
            taken = number
            yield "bogus\n"

    with assembled(BenchOptions(folder=tmp_path)) as bench:
        TextBench(bench, Answers(), columns=None).run(flood(), quit_at_end=True)
    assert answered == taken == 3 * MOST_WAITING - 1
    assert max(waiting) <= MOST_WAITING + 1


def test_nothing_that_is_said_is_lost_behind_what_a_cable_says_in_the_same_turn(tmp_path: Path) -> None:
    """A terminal keeps every line; the damaged settings of the start were lost behind the first cable that came up."""
    out = io.StringIO()
    (tmp_path / "settings.json").write_text("{")
    with assembled(BenchOptions(folder=tmp_path)) as bench:
        for port in ("one", "two"):
            bench.post(LinkChanged(instrument=port, state=LinkState.UP, text=Name("open")))
        TextBench(bench, out, columns=None).run(("quit",), quit_at_end=True)
    shown = out.getvalue()
    assert "one: open" in shown
    assert "two: open" in shown
    assert "settings.json" in shown
