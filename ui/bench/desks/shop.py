"""The shop desk: joining by a file on the stick, and leaving; the screen asks for it, the download thread does it.

Input: commands and the download thread's reports. Output: the snapshot's `ShopSlice`, and orders to the thread. How the
bench stands to its shop is a look-up of the records desk.
"""

from msgspec.structs import replace

from core.said import said
from ui.bench.desks.records import RecordsDesk, look_up_shop
from ui.bench.routing import Desk
from ui.bench.steps import STICK_IN_USE, told
from ui.bench.workers.downloads import WaysSeen
from ui.bench.workers.shop_files import ShopFiles
from ui.state import Command, ShopSlice, ShopStage, Snapshot


class LookForShop(Command, frozen=True, kw_only=True):
    """Look for files on the stick that admit this bench to a shop; nothing changes yet."""


class JoinShop(Command, frozen=True, kw_only=True):
    """Belong to the shop of this file from now on; what is sent was shown before. `names`: those of people too;
    `new_bench`: as another bench than before, after an older card was put in."""

    path: str
    names: bool
    new_bench: bool = False


class WipeShopFile(Command, frozen=True, kw_only=True):
    """Take the file that was used off the stick: it holds a password."""


class KeepShopFile(Command, frozen=True, kw_only=True):
    """Leave it there."""


class LeaveShop(Command, frozen=True, kw_only=True):
    """Be alone again; everything stays here."""


class ShopDesk(Desk):
    """Keeps nothing: what is under way is in the snapshot."""

    def __init__(self, shop: ShopFiles | None, records: RecordsDesk) -> None:
        self._shop = shop
        self._records = records
        self.takes = {
            LookForShop: self._ask,
            JoinShop: self._ask,
            WipeShopFile: self._ask,
            LeaveShop: self._ask,
            KeepShopFile: lambda draft, _wish: replace(draft, shop=ShopSlice()),
            ShopSlice: self._moved,
        }
        self.hears = {WaysSeen: self._plugged}

    def _ask(self, draft: Snapshot, wish: Command) -> Snapshot:
        if self._shop is None:
            return told(draft, said("This bench joins no shop by touch: cornerwise shop join does it."), alarm=True)
        if draft.stick_in_use:
            return told(draft, STICK_IN_USE, alarm=True)
        match wish:
            case LookForShop():
                self._shop.look()
                return replace(draft, shop=ShopSlice(stage=ShopStage.LOOKING))
            case JoinShop(path=path, names=names, new_bench=new_bench):
                self._shop.join(path, names=names, new_bench=new_bench)
                return replace(draft, shop=replace(draft.shop, stage=ShopStage.JOINING))
            case WipeShopFile() if draft.shop.joined_by:
                self._shop.wipe(draft.shop.joined_by)
                return replace(draft, shop=replace(draft.shop, stage=ShopStage.WIPING))
            case LeaveShop():
                self._shop.leave()
        return draft

    def _moved(self, draft: Snapshot, moved: ShopSlice) -> Snapshot:
        shop = moved
        if moved.stage is ShopStage.FAILED and draft.shop.stage is ShopStage.WIPING:
            shop = replace(shop, joined_by=draft.shop.joined_by)  # it lies there still
        draft = self._records.look_up(replace(draft, shop=shop), look_up_shop())
        if moved.stage is ShopStage.FAILED:
            return told(draft, said("Not done: {reason}", reason=moved.text), alarm=True)
        return told(draft, moved.text) if moved.text else draft

    def _plugged(self, draft: Snapshot, _ways: WaysSeen) -> Snapshot:
        """Another stick, or none: what was found on the one before is gone."""
        return draft if draft.shop.stage.is_busy else replace(draft, shop=ShopSlice())
