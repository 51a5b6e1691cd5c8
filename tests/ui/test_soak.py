"""The soak of tests/endurance in small: a few coupons by the fast simulated hand on the bench without its screens.

Memory is not judged here: a process is still filling its caches after so few.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from core.records.saved_bench import ARCHIVE
from tests.endurance.soak import Person, Sample, faults, soak

FLAT = [Sample(sessions=n, readings=10 * n, memory_mb=100.0, descriptors=20, threads=6) for n in range(1, 9)]


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> tuple[Person, list[str], Path]:
    folder = tmp_path_factory.mktemp("soak")
    person, found = soak(folder, readings=100, sessions=6, screen=False)
    return person, found, folder / ARCHIVE


def test_coupon_after_coupon_leaves_nothing_open_and_loses_nothing(worked: tuple[Person, list[str], Path]) -> None:
    person, found, _ = worked
    assert person.sessions >= 6
    assert person.readings >= 100
    assert found == []


@pytest.mark.parametrize(
    ("grown", "said"),
    [
        ({"descriptors": 21}, "descriptors grew"),
        ({"threads": 7}, "threads grew"),
        ({"memory_mb": 103.0}, "memory grew from 100.0 to 103.0 MB"),
    ],
)
def test_what_grows_is_told(worked: tuple[Person, list[str], Path], grown: dict[str, float], said: str) -> None:
    person, _, archive = worked
    later = [Sample(**{name: getattr(one, name) for name in Sample.__slots__} | grown) for one in FLAT]
    assert faults(FLAT + later, archive, person.sessions, person.readings) == [said]


def test_a_reading_that_is_not_in_the_archive_is_told(worked: tuple[Person, list[str], Path]) -> None:
    person, _, archive = worked
    (told,) = faults(FLAT, archive, person.sessions, person.readings + 1)
    assert "readings kept" in told
