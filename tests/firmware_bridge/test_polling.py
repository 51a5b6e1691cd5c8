"""Which line is an answer and which the data button, on a clock of the test's own."""

from __future__ import annotations

from firmware_bridge.indications import Polling


def test_it_asks_at_its_interval_and_not_before_the_answer() -> None:
    polling = Polling(0.1)
    assert polling.due(10.0)
    polling.asked(10.0)
    assert not polling.due(10.5)
    assert not polling.line_came(10.6)
    assert polling.due(10.61)
    assert polling.next_due_s(10.05) == 0.05 or polling.next_due_s(10.05) < 0.06


def test_a_line_nobody_asked_for_is_the_data_button() -> None:
    polling = Polling(0.1)
    polling.asked(0.0)
    assert not polling.line_came(0.02)
    assert polling.line_came(0.05)


def test_a_press_between_request_and_answer_still_counts_once() -> None:
    polling = Polling(0.1)
    polling.asked(0.0)
    assert [polling.line_came(0.02), polling.line_came(0.03)] == [False, True]


def test_an_instrument_that_streams_under_the_wrong_setting_does_not_press_its_button_all_the_time() -> None:
    polling = Polling(None)
    assert sum(polling.line_came(step / 10.0) for step in range(600)) == 1


def test_the_answer_to_a_pedal_is_meant() -> None:
    polling = Polling(None)
    assert not polling.due(5.0)
    polling.want()
    assert polling.due(5.0)
    polling.asked(5.0)
    assert polling.line_came(5.4)
    assert not polling.due(6.0)


def test_a_late_answer_is_not_taken_for_the_button() -> None:
    polling = Polling(0.1, answer_s=2.0)
    polling.asked(0.0)
    assert not polling.due(1.9)
    assert polling.due(2.0)
    assert not polling.line_came(2.5)
    assert polling.line_came(4.1)


def test_after_the_cable_was_lost_nothing_is_out() -> None:
    polling = Polling(0.1)
    polling.asked(0.0)
    polling.reset()
    assert polling.due(0.2)
    assert polling.line_came(0.3)
