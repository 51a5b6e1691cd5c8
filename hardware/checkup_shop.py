"""The check of the shop: whether the bench belongs to one, what waits, what hinders the sending, what was refused.

Stage: hardware. Input: the data folder. Output: one check. The archive is only read, and nothing is made beside it: who
asks may be another user than the bench.
"""

from contextlib import nullcontext
from datetime import UTC, datetime
from pathlib import Path

from core.errors import StorageError
from core.records import ARCHIVE, ShopRecords, asked_beside
from core.records.shop_state import shop_state
from core.said import NOTHING, said
from hardware.checkup import Check, absent, fine, wrong


def check_shop(data: Path) -> Check:
    """How the bench stands to its shop; alone is no fault."""
    name, path = "outbox", data / ARCHIVE
    alone = said("the bench is alone: nothing is sent")
    if not path.exists():
        return absent(name, alone)
    try:
        with asked_beside(path) as asked:
            state = shop_state(ShopRecords(asked, nullcontext, nullcontext, nullcontext, lambda: datetime.now(UTC)))
    except StorageError as error:
        return absent(name, error.what)
    if state.membership is None:
        return absent(name, alone)
    if state.hindrance or state.refused:
        to_do = said("cornerwise shop status says why; what waits is lost by nothing")
        return wrong(name, state.line, to_do)
    to_do = said("say at the screen which machine is which") if state.questions else NOTHING
    return fine(name, state.line, to_do)
