"""The whole judgement of a coupon as one value: three groups with a word each, one honest headline, what is next.

Stage: what `evaluate` gives to everything behind it. Words and next reading stand in it; what only some pages show
(both skews, the causes of sizes) is worked out when it is asked for.
"""

from msgspec import Struct

from core.geometry import Coupon
from core.metrology.accuracy import MeasuringSetup
from core.metrology.adjustment import Adjustment, Estimate
from core.metrology.characteristics import GROUPS, Scope
from core.metrology.expansion import ExpansionDifference
from core.metrology.findings import Explanation, ExplanationKind, NextReading
from core.metrology.groups import GroupVerdict
from core.metrology.kerf import SizeFinding, size_finding
from core.metrology.readings import Reading
from core.metrology.tolerances import Limits
from core.metrology.two_skews import TwoSkews, surely_agree, two_skews
from core.metrology.verdict import Characteristic, CharacteristicGroup, Verdict, worst
from core.said import NOTHING, Said


class Evaluation(Struct, frozen=True, kw_only=True, eq=False):
    """The whole judgement. `groups` are squareness, shape and size; `verdict` is the worst of those asked for.

    `characteristics` are those of the groups asked for. `settled` means: no slip that could pass unseen would change
    the headline, measuring may end. `too_close`: so many readings without a settled word that more will not bring it.
    `sign_open` is True when the direction of the skew cannot be told from the readings. `readings`, `setup`, `named`
    (the groups asked for by name, None: those that were read) and `expansion` are what it was judged with.
    """

    coupon: Coupon
    readings: tuple[Reading, ...]
    setup: MeasuringSetup
    limits: Limits
    adjustment: Adjustment
    characteristics: tuple[Characteristic, ...]
    groups: tuple[GroupVerdict, ...]
    sign_open: bool
    explanations: tuple[Explanation, ...]
    next_reading: NextReading | None
    too_close: bool
    named: tuple[CharacteristicGroup, ...] | None = None
    expansion: ExpansionDifference | None = None

    @property
    def skew_by(self) -> TwoSkews:
        """Skew by lengths against skew by corners."""
        return two_skews(self.adjustment, self.setup)

    @property
    def skews_disagree(self) -> bool:
        """Whether those two differ by more than chance; both are worked out only where that is in doubt."""
        return not surely_agree(self.adjustment, self.setup) and self.skew_by.disagree

    @property
    def told_skew_deg(self) -> Estimate | None:
        """The skew that may be told, kept and reckoned with; None while readings contradict one another, where
        lengths and corners do (the best fit is then an average that neither says), and while the seats are in doubt."""
        if not self.adjustment.consistent or self.skews_disagree or self.seats_in_doubt:
            return None
        return self.adjustment.skew_deg

    @property
    def do_first(self) -> Said:
        """What to do about the one cause behind all readings of a kind; empty where there seems to be none."""
        return self.explanations[0].first if self.explanations else NOTHING

    @property
    def seats_in_doubt(self) -> bool:
        """Whether the diagonals look like those of a coupon with other seats: their difference is then no skew."""
        return bool(self.explanations) and self.explanations[0].kind is ExplanationKind.OTHER_SEATS

    @property
    def size_finding(self) -> SizeFinding | None:
        """What the sizes point to (kerf, scale); None before they are read, while readings contradict, and where one
        cause behind all of them comes first."""
        if not self.adjustment.consistent or self.do_first:
            return None
        return size_finding(self.adjustment, self.readings, self.setup, self.expansion)

    def group(self, group: CharacteristicGroup) -> GroupVerdict:
        """The word on one group."""
        return self.groups[GROUPS.index(group)]

    @property
    def asked(self) -> tuple[GroupVerdict, ...]:
        """The groups that count for the headline."""
        return tuple(group for group in self.groups if group.asked)

    @property
    def verdict(self) -> Verdict:
        """The headline: the worst of the groups asked for."""
        if not self.adjustment.consistent:
            return Verdict.INCONSISTENT
        return worst(group.verdict for group in self.asked)

    @property
    def verdict_of(self) -> CharacteristicGroup:
        """The group whose word the headline is; of equal words one that is settled, then squareness, first."""
        same = [group for group in self.asked if group.verdict is self.verdict]
        settled = [group for group in same if group.settled] if self.verdict is Verdict.NO_GO else []
        return next((group.group for group in settled or same), CharacteristicGroup.SQUARENESS)

    @property
    def settled(self) -> bool:
        """Whether the headline is final: GO when all of its groups are settled, NO-GO when the one named is."""
        if self.verdict is Verdict.NO_GO:
            return self.group(self.verdict_of).settled
        return self.verdict is Verdict.GO and all(group.settled for group in self.asked)

    @property
    def cross_checked(self) -> bool:
        """The same as settled, under the name that files know it by."""
        return self.settled

    @property
    def size_verdict(self) -> Verdict:
        """The word on size."""
        return self.group(CharacteristicGroup.SIZE).verdict

    @property
    def scope(self) -> Scope:
        """Squareness alone, or whatever was read."""
        return Scope.SQUARENESS if self.named == (CharacteristicGroup.SQUARENESS,) else Scope.ALL

    @property
    def worst(self) -> Characteristic | None:
        """The characteristic of the headline's group that uses most of its tolerance; None where none is judged."""
        judged = [item for item in self.characteristics if item.group is self.verdict_of]
        return max(judged, key=lambda item: abs(item.share), default=None)
