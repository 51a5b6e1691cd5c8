"""The settings desk: what the person chose, in force at once and kept by the archive's thread.

Input: ChangeSettings. Output: the next snapshot's `settings`, and a task for the archive.
"""

from msgspec.structs import replace

from core.said import said
from ui.bench.desks.measuring import LabelCoupon
from ui.bench.routing import Desk
from ui.bench.steps import told
from ui.bench.workers.archive_tasks import SettingsKept, keep_settings
from ui.bench.workers.archive_thread import Outbox
from ui.bench.workers.speaker import SpeakerRefused
from ui.state import Command, Settings, SettingsFile, Snapshot


class ChangeSettings(Command, frozen=True, kw_only=True):
    """Use these settings from now on, and remember them."""

    settings: Settings


class SettingsDesk(Desk):
    """Knows the file the settings are kept in; without one they hold until the bench is left."""

    def __init__(self, outbox: Outbox, file: SettingsFile | None) -> None:
        self._outbox = outbox
        self._file = file
        self.takes = {ChangeSettings: self._change, SettingsKept: self._kept, SpeakerRefused: _unheard}
        self.hears = {LabelCoupon: self._labelled}

    def _labelled(self, draft: Snapshot, wish: LabelCoupon) -> Snapshot:
        """Who measures, with what, and whose shop it is stay for the next coupon."""
        label = wish.label
        settings = replace(
            draft.settings, shop=label.shop, operator=label.operator, caliper=label.caliper, gauge=label.gauge
        )
        if draft.session is None or settings == draft.settings:
            return draft
        return self._change(draft, ChangeSettings(settings=settings))

    def _change(self, draft: Snapshot, change: ChangeSettings) -> Snapshot:
        if self._file is not None:
            self._outbox.submit(keep_settings(self._file, change.settings))
        return replace(draft, settings=change.settings)

    def _kept(self, draft: Snapshot, _kept: SettingsKept) -> Snapshot:
        return told(draft, said("The settings are kept."))


def _unheard(draft: Snapshot, refused: SpeakerRefused) -> Snapshot:
    return told(draft, refused.text, alarm=True)
