"""What holds for every test: the catalogues as the package's build makes them, where a .po was changed since, and no
deadline for an example, for a busy machine may take any time over one, and no thread outlives its test, for the whole
run would never end."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest
from hypothesis import settings

from ui.speech.locale.catalogues import FOLDER, compile_into

if any(
    not (made := catalogue.with_suffix(".mo")).exists() or made.stat().st_mtime < catalogue.stat().st_mtime
    for catalogue in FOLDER.glob("*.po")
):
    compile_into(FOLDER)

settings.register_profile("house", deadline=None)
settings.load_profile("house")


@pytest.fixture(autouse=True)
def nothing_runs_on() -> Iterator[None]:
    """Python waits for every thread before it ends: one that a test left is that test's fault, not the run's."""
    before = set(threading.enumerate())
    yield
    left = [thread for thread in threading.enumerate() if thread not in before and not thread.daemon]
    assert not left, left
