"""The sending service: rounds for as long as it runs, beside the bench and never in its way.

Input: the archive's file and the access that was kept. Output: rounds, and what hinders them, said once to the log. A
round is made when the archive has changed, and now and then for what others measured; where the way is barred, the
pauses grow. It ends by itself when the bench has left the shop.
"""

import logging
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from pathlib import Path

from core.errors import CornerwiseError, NotAvailableError
from core.records import Archive
from core.said import Part
from core.said_wire import as_line
from ui.shop.access import AccessFile
from ui.shop.courier import Round, carry
from ui.shop.server import connected

LOG = logging.getLogger("cornerwise.shop")
LOOK_S = 10.0
TAKE_S = 300.0
LONGEST_PAUSE_S = 600.0

Clock = Callable[[], datetime | None]


def one_round(folder: Path, archive_file: Path, clock: Clock, *, simulated: bool) -> Round | None:
    """Send and take once; None where the bench belongs to no shop. Raises NotAvailableError, StorageError."""
    access = AccessFile(folder).load()
    if access is None:
        return None
    with closing(Archive.open(archive_file, clock, may_set_aside=False)) as archive:
        try:
            with connected(access) as server:
                done = carry(archive, server, clock(), simulated=simulated)
        except NotAvailableError as error:
            archive.shop.hinder(as_line(error.what))
            raise
        archive.shop.hinder(as_line(done.barred) if done.barred else "")
        return done


class SendingService:
    """Rounds by turns; collaborators come by constructor, so that a day passes in a test at once.

    `round_` makes one round, `changes` tells a number that moves with the archive, `wait` waits so many seconds and is
    False when it is time to end, `tell` hears what hinders, when that changes.
    """

    def __init__(
        self,
        round_: Callable[[], Round | None],
        changes: Callable[[], int],
        wait: Callable[[float], bool],
        tell: Callable[[Part], None],
    ) -> None:
        self._round = round_
        self._changes = changes
        self._wait = wait
        self._tell = tell
        self._hindrance: Part | None = None

    def run(self) -> None:
        """Until told to end, or the bench has left the shop."""
        pause_s = LOOK_S
        seen, since_s = -1, TAKE_S
        going = True
        while going:
            if self._changes() == seen and since_s < TAKE_S:
                going, since_s = self._wait(LOOK_S), since_s + LOOK_S
                continue
            hindered = self._try_round()
            if hindered is None:
                return
            pause_s = min(2.0 * pause_s, LONGEST_PAUSE_S) if hindered else LOOK_S
            # What could not be sent is waiting still, whether or not the archive changes.
            seen, since_s = (-1 if hindered else self._changes()), 0.0
            going = self._wait(pause_s)

    def _try_round(self) -> bool | None:
        """Whether something hindered it; None where there is no shop any more."""
        try:
            done = self._round()
        except CornerwiseError as error:
            if error.what != self._hindrance:
                self._hindrance = error.what
                self._tell(error.what)
            return True
        if done is None:
            return None
        self._hindrance = None
        for reason in done.refused:
            self._tell(reason)
        if done.sent or done.taken:
            LOG.info("%d logs sent, %d sessions taken", done.sent, done.taken)
        return False
