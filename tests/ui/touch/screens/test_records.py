"""History, download and instruments by touch, and what they say."""

from __future__ import annotations

from datetime import UTC, datetime

from msgspec.structs import replace

from core.records.session_tables import SessionFilter
from core.said import worded
from tests.ui.scenes import SCENES
from tests.ui.touching import find_text, shown_widgets, tap_text
from ui.bench.desks.cables import UseInstrument
from ui.bench.desks.download import Download
from ui.bench.desks.measuring import SeeCoupon
from ui.bench.desks.records import look_up_history
from ui.pages.history import ANY, chart_of, history_text, session_rows, with_since
from ui.pages.theme import Shape
from ui.state.stick import DownloadWay

CABLE = "Show it to the computer on the USB cable"


def test_opening_the_history_looks_it_up(screen) -> None:
    screen.show(SCENES["to-correct"]())
    screen.go("history")
    assert screen.bench.sent == [look_up_history(machine="router")]


def test_a_coupon_of_the_history_is_downloaded(screen) -> None:
    screen.show(SCENES["history"]())
    screen.go("history")
    tap_text(screen, "2026-11-14 08:00")
    tap_text(screen, "Download")
    assert find_text(screen, "Download coupon 2026-11-14-1").disabled
    screen.show(SCENES["downloaded"]())
    tap_text(screen, "Download coupon 2026-11-14-1")
    assert screen.bench.sent[-1] == Download(session="2026-11-14-1")


def test_a_coupon_of_the_history_is_seen_again(screen) -> None:
    screen.show(SCENES["history"]())
    screen.go("history")
    assert find_text(screen, "See it").disabled
    tap_text(screen, "2026-11-14 08:00")
    tap_text(screen, "See it")
    assert screen.bench.sent[-1] == SeeCoupon(session="2026-11-14-1")
    assert screen.app.root.screen.name == "verdict"


def test_after_a_restart_the_last_coupon_is_at_hand_for_verdict_and_download(screen) -> None:
    """Nobody has a machine described, no coupon is on the bench: what was measured is not gone."""
    screen.show(SCENES["restarted"]())
    screen.go("bench")
    assert "Last coupon: 120 x 80 mm, GO, 2026-11-20 08:00" in str(screen.app.root.screen.message)
    screen.go("verdict")
    assert screen.bench.sent == [SeeCoupon(session="2026-11-20-1")]
    screen.go("download")
    assert find_text(screen, "Download coupon 2026-11-20-1")


def test_without_a_machine_the_coupons_measured_without_one_are_listed(screen) -> None:
    screen.show(SCENES["restarted"]())
    screen.go("history")
    assert screen.bench.sent == [look_up_history(machine="")]


def test_where_the_board_can_be_a_drive_a_coupon_is_shown_on_the_cable(screen) -> None:
    screen.show(SCENES["downloaded"]())
    screen.go("download")
    assert CABLE not in [getattr(widget, "text", None) for widget in shown_widgets(screen)]
    screen.show(SCENES["on-drive"]())
    tap_text(screen, CABLE)
    assert screen.bench.sent[-1] == Download(session="2026-11-25-1", way=DownloadWay.CABLE)


def test_older_coupons_are_on_the_next_page(screen) -> None:
    screen.show(SCENES["history"]())
    screen.go("history")
    tap_text(screen, "Older")
    assert find_text(screen, "2026-11-02 08:00")
    tap_text(screen, "Newer")
    assert find_text(screen, "2026-11-20 08:00")


def test_nothing_is_written_while_a_download_is_under_way(screen) -> None:
    screen.show(SCENES["writing"]())
    screen.go("download")
    tap_text(screen, "Download coupon 2026-11-25-1")
    assert screen.bench.sent == []


def test_the_chart_holds_every_coupon_and_what_was_done() -> None:
    chart = chart_of(SCENES["history"]().records.history)
    assert [round(point.place, 3) for point in chart.points] == [round(i / 6, 3) for i in range(7)]
    assert [point.value for point in chart.points][:2] == [0.31, 0.34]
    assert len(chart.marks) == 1
    assert 0.5 < chart.marks[0][0] < 2 / 3


def test_rows_say_what_a_coupon_was() -> None:
    newest, *_, oldest = session_rows(SCENES["history"]())
    assert (worded(newest.skew), worded(oldest.skew)) == ("+0.01 ± 0.06°", "+0.31 ± 0.06°")
    assert "needed before drift can be told" in str(history_text(SCENES["history"]()))


def test_a_word_that_was_not_settled_is_listed_in_the_shape_of_an_undecided_one() -> None:
    shown = SCENES["history"]()
    found = shown.records.history
    listed = tuple(replace(one, settled=place != 0) for place, one in enumerate(found.sessions))
    rows = session_rows(replace(shown, records=replace(shown.records, history=replace(found, sessions=listed))))
    assert (found.sessions[0].verdict, rows[0].shape) == (found.sessions[1].verdict, Shape.HALF_DIAMOND)
    assert Shape.HALF_DIAMOND not in {row.shape for row in rows[1:]}


def test_the_chart_holds_the_control_limits_of_the_stretch_since_the_correction() -> None:
    chart = chart_of(SCENES["drifting"]().records.history)
    assert [point.place for point in chart.control] == [point.place for point in chart.points[4:]]
    assert not chart.control[-1].lower <= chart.control[-1].average <= chart.control[-1].upper
    assert chart.limit == 0.29


def test_sizes_have_a_chart_of_their_own(screen) -> None:
    screen.show(SCENES["drifting"]())
    screen.go("history")
    tap_text(screen, "Size X")
    sizes = screen.app.root.screen.chart
    assert (sizes.sign, sizes.limit) == ("%", 0.25)
    assert [round(point.value, 3) for point in sizes.points[:2]] == [-0.04, -0.043]
    assert "% per day" in str(screen.app.root.screen.text)


def test_the_list_is_filtered_by_touch(screen) -> None:
    screen.show(SCENES["drifting"]())
    screen.go("history")
    tap_text(screen, "Filter")
    for choice in ("No-go", "Corrected from", "Since set"):
        tap_text(screen, choice)
    set_then = datetime(2026, 11, 12, 8, 0, tzinfo=UTC)
    only = SessionFilter(verdict="no-go", corrected=True, since_utc=set_then)
    assert screen.bench.sent[-1] == look_up_history(machine="router", only=only)
    tap_text(screen, "List")
    assert find_text(screen, "no-go only, corrected from, since 2026-11-12")


def test_the_chart_begins_where_the_list_does() -> None:
    view = SCENES["drifting"]().records.history
    recent = replace(view, only=with_since(view.only, "30", view))
    assert recent.only.since_utc == datetime(2026, 11, 8, 8, 0, tzinfo=UTC)
    assert len(chart_of(recent).points) == len(chart_of(view).points) - 2
    assert with_since(recent.only, ANY, view) == view.only


def test_the_bench_says_when_to_check_next(screen) -> None:
    screen.show(SCENES["drifting"]())
    screen.go("bench")
    assert "Check again by 2026-12-" in str(screen.app.root.screen.message)


def test_a_stranger_on_a_cable_is_used_by_touch(screen) -> None:
    screen.show(SCENES["stranger"]())
    screen.go("instruments")
    tap_text(screen, "Use as calipers 2")
    screen.frames_for(0.4)  # a list waits a moment to see whether the finger pulls it
    assert screen.bench.sent == [UseInstrument(settings=SCENES["stranger"]().ports[0].offers[0])]
