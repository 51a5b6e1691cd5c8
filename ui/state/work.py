"""What the snapshot says of something that takes its time: what it is, how far it is, and whether it can be stopped."""

from msgspec import Struct

from core.said import Name, Number, Part, said


class WorkSlice(Struct, frozen=True, kw_only=True):
    """`key` tells one from the next, `what` it does in words. `percent` is there once it has taken long enough that one
    wonders (None: not yet, or nobody knows), `can_stop` once it has taken so long that one may not want to wait."""

    key: int
    what: Part
    percent: int | None = None
    can_stop: bool = False

    @property
    def words(self) -> Part:
        """What it does and how far it is, in one line."""
        if self.percent is None:
            return said("{work} ...", work=self.what)
        return said("{work}: {share}", work=self.what, share=self.share)

    @property
    def share(self) -> Part:
        """How far it is, alone."""
        return Name("...") if self.percent is None else Number(self.percent, 0, "%")
