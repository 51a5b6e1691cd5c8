"""Asks the helper for updates without stopping the bench: a thread of its own for each errand, reports into the queue.

Input: what to do. Output: `UpdateMoved` reports, posted into the bench's queue.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from core.errors import CornerwiseError
from hardware.helper_client import Verb, ask_helper
from ui.pages.update import UpdateState


@dataclass(frozen=True, slots=True, kw_only=True)
class UpdateMoved:
    """An update came further or ended; `text` says it in words, `found` is the version on the stick."""

    state: UpdateState
    text: str
    found: str = ""


class AskRoot(Protocol):
    """How the helper is asked; `ask_helper` is the real one."""

    def __call__(self, verb: Verb, *words: str, progress: Callable[[str], None]) -> str:
        """Have it done and return the answer; raises NotAvailableError with the reason."""
        ...


class Updates:
    """Each call returns at once; what becomes of it is posted."""

    def __init__(self, post: Callable[[UpdateMoved], None], ask: AskRoot = ask_helper) -> None:
        self._post = post
        self._ask = ask

    def look(self, partition: str) -> None:
        """What is on this stick: FOUND with its version, or FAILED."""
        self._begin(UpdateState.LOOKING, Verb.LOOK_FOR_UPDATE, partition, ends=UpdateState.FOUND)

    def install(self, version: str) -> None:
        """Install what was looked at: STARTING, and soon the bench is started anew; or FAILED."""
        self._begin(UpdateState.INSTALLING, Verb.INSTALL_UPDATE, version, ends=UpdateState.STARTING)

    def go_back(self) -> None:
        """Take the version before: STARTING, or FAILED."""
        self._begin(UpdateState.INSTALLING, Verb.GO_BACK, ends=UpdateState.STARTING)

    def _begin(self, state: UpdateState, verb: Verb, *words: str, ends: UpdateState) -> None:
        def run() -> None:
            try:
                answer = self._ask(verb, *words, progress=lambda text: self._post(UpdateMoved(state=state, text=text)))
            except CornerwiseError as error:
                self._post(UpdateMoved(state=UpdateState.FAILED, text=str(error)))
                return
            found = answer if ends is UpdateState.FOUND else ""
            self._post(UpdateMoved(state=ends, text="" if found else answer, found=found))

        threading.Thread(target=run, name="update", daemon=True).start()
