"""The rows of the tables and what must hold in each: worlds, who judges them, limits of the shares that are counted.

Shares of moves are of the moves given, shares of words of all coupons.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import CORNERS
from core.metrology.accuracy import DEFAULT_GAUGE, CouponForm, MeasuringSetup
from core.metrology.witness import Answers, MarkSeen
from tests.endurance.world import slips
from tests.endurance.world.hands import GAUGE, Hand, Instrument
from tests.endurance.world.judging import (
    ALL_GROUPS,
    ALL_TWICE,
    MOST_READINGS,
    QUICK,
    Judge,
    Outcome,
    Question,
    as_the_bench_asks,
    fixed,
)
from tests.endurance.world.witnesses import by_light, by_reversal
from tests.endurance.world.worlds import BARE, EQUAL, KEYED, Seed, Truth, World

Outcomes = Sequence[Outcome]


class Results(Struct, frozen=True):
    """What was said of every coupon of a row, and what was true: arrays (m,).

    `covered` by name: 1 where the interval told holds the true value, 0 where not, NaN where none was told (of a skew
    that lengths and corners contradict each other about).
    """

    outcomes: Outcomes
    good: np.ndarray
    share_of_limit: np.ndarray
    move: np.ndarray
    skew_error: np.ndarray
    covered: dict[str, np.ndarray]

    @property
    def words(self) -> np.ndarray:
        return np.array([outcome.word for outcome in self.outcomes])

    @property
    def settled(self) -> np.ndarray:
        return np.array([outcome.settled for outcome in self.outcomes])

    @property
    def moves(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Moves given, their U, and the true ones."""
        given = [k for k, outcome in enumerate(self.outcomes) if outcome.move is not None]
        pairs = np.array([self.outcomes[k].move for k in given]).reshape(-1, 2)
        return pairs[:, 0], pairs[:, 1], self.move[given]


class Check(Struct, frozen=True):
    """A share or a mean of a row, and the range it must lie in; (None, None) is only reported."""

    name: str
    of: Callable[[Results], float]
    least: float | None = None
    most: float | None = None
    percent: bool = True


def wrong_word(results: Results, *, settled: bool) -> float:
    """GO on bad or NO-GO on good, settled or whatever stands at the end."""
    wrong = ((results.words == "go") & ~results.good) | ((results.words == "no-go") & results.good)
    return float((wrong & results.settled).mean() if settled else wrong.mean())


def false_go(results: Results) -> float:
    return float(((results.words == "go") & ~results.good).mean())


def no_go_on_good(results: Results) -> float:
    return float(((results.words == "no-go") & results.good).mean())


def go_share(results: Results) -> float:
    return float((results.words == "go").mean())


def no_go_share(results: Results) -> float:
    return float((results.words == "no-go").mean())


def inconsistent(results: Results) -> float:
    return float((results.words == "inconsistent").mean())


def beyond(times: float) -> Callable[[Results], float]:
    """Share of the moves given that miss the true one by more than so many times their U."""

    def share(results: Results) -> float:
        given, U, true = results.moves
        return float((np.abs(given - true) > times * U).mean()) if len(given) else 0.0

    return share


def wrong_way_of_moves(results: Results) -> float:
    given, _, true = results.moves
    return float((given * true < 0.0).mean()) if len(given) else 0.0


def wrong_way(results: Results) -> float:
    """Of all coupons."""
    given, _, true = results.moves
    return float((given * true < 0.0).sum() / len(results.outcomes))


def moves_given(results: Results) -> float:
    return float(len(results.moves[0]) / len(results.outcomes))


def moves_of_no_go(results: Results) -> float:
    no_go = [outcome for outcome in results.outcomes if str(outcome.word) == "no-go" and outcome.settled]
    return float(np.mean([outcome.move is not None for outcome in no_go])) if no_go else float("nan")


def no_move_of_no_go(results: Results) -> float:
    """Share of NO-GO coupons that get no move but a reason."""
    no_go = [outcome for outcome in results.outcomes if str(outcome.word) == "no-go"]
    return float(np.mean([outcome.move is None and bool(outcome.held) for outcome in no_go])) if no_go else float("nan")


def coverage_of(name: str) -> Callable[[Results], float]:
    return lambda results: float(np.nanmean(results.covered[name])) if name in results.covered else float("nan")


def largest_skew_error(results: Results) -> float:
    """Of coupons within the limit, over the shorter side, mm."""
    return float(np.abs(results.skew_error[results.good]).max())


def lowest_coverage(results: Results) -> float:
    return min(float(np.nanmean(inside)) for inside in results.covered.values())


def highest_coverage(results: Results) -> float:
    return max(float(np.nanmean(inside)) for inside in results.covered.values())


def within_twelve(readings: int | None) -> bool:
    return readings is not None and readings <= MOST_READINGS


def readings_to(what: str) -> Callable[[Results], float]:
    def mean(results: Results) -> float:
        counts = [getattr(outcome, what) for outcome in results.outcomes if within_twelve(getattr(outcome, what))]
        return float(np.mean(counts)) if counts else float("nan")

    return mean


def never_settled(results: Results) -> float:
    return float(np.mean([not within_twelve(outcome.settled_after) for outcome in results.outcomes]))


def unsettled_and_not_told(results: Results) -> float:
    return float(
        np.mean([outcome.settled_after is None and not outcome.told_too_close for outcome in results.outcomes])
    )


def easy_ones_ended(results: Results) -> float:
    """Of coupons within three quarters of the limit, those that came to a settled word."""
    easy = np.abs(results.share_of_limit) <= 0.75
    return float(
        np.mean([outcome.settled_after is not None for outcome, e in zip(results.outcomes, easy, strict=True) if e])
    )


COVERAGE = (
    Check("lowest coverage", lowest_coverage, 0.94, None),
    Check("highest coverage", highest_coverage, None, 0.97),
)
WORDS = (
    Check("falsely settled", lambda results: wrong_word(results, settled=True), None, 0.005),
    Check("false GO", false_go, None, 0.005),
    Check("NO-GO on good", no_go_on_good),
)
MOVES = (
    Check("moves given", moves_given),
    Check("outside U", beyond(1.0), None, 0.08),
    Check("beyond 2 U", beyond(2.0), None, 0.001),
    Check("wrong way", wrong_way_of_moves, None, 0.0),
)
REPORTED = tuple(replace(check, least=None, most=None) for check in (*WORDS, *MOVES))
WRONG_WAY = (Check("moves given", moves_given), Check("wrong way of all", wrong_way, None, 0.0005))


class Row(Struct, frozen=True):
    """A world, who judges it, and what must hold. `times` as many coupons as the table has: rare things need more.

    `witness` says of every coupon what a person finds out beside the readings; None: the question's answers. `said` is
    the coupon that the bench was told of; None: the one that was cut.
    """

    name: str
    world: World
    checks: tuple[Check, ...]
    judge: Judge = field(default_factory=lambda: as_the_bench_asks(QUICK))
    question: Question = field(default_factory=Question)
    times: int = 1
    witness: Callable[[Truth, Seed], list[Answers]] | None = None
    said: Coupon | None = None

    @property
    def asked(self) -> Question:
        """The question about the coupon as it was said to be."""
        return replace(self.question, coupon=self.said or self.world.coupon)


KEYED_WORLD = World()
ROUGH = replace(KEYED_WORLD, seat_form=0.05)
WITHOUT = World(coupon=BARE)
HOT = World(coupon=BARE, corner_form=0.10)
TOLD_ROUGH = Question(setup=MeasuringSetup(form=CouponForm(seat_mm=0.05)))
TOLD_GROWTH = Question(setup=MeasuringSetup(form=CouponForm(seat_mm=0.03)))
TOLD_HOT = Question(setup=MeasuringSetup(form=CouponForm(diagonal_mm=0.10)))
FOUR = (
    ("keyed, form 0.02", KEYED_WORLD, Question()),
    ("keyed, form 0.05 told", ROUGH, TOLD_ROUGH),
    ("without seats", WITHOUT, Question()),
    ("without, hot cut told", HOT, TOLD_HOT),
)
NOISIER = "three times noisier"
BOTH_TWICE, TEN_TWICE = fixed(QUICK), fixed(ALL_TWICE)
BENCH = as_the_bench_asks(QUICK)


def assumptions() -> list[Row]:
    """The world is as the model has it, but for its formulas."""
    rows = []
    for name, world, question in FOUR:
        ask_all = replace(question, groups=ALL_GROUPS)
        rows += [
            Row(f"{name}: all ten twice", world, (*COVERAGE, *WORDS), TEN_TWICE, ask_all, times=10),
            Row(f"{name}: diagonals twice", world, COVERAGE, BOTH_TWICE, question, times=10),
            Row(f"{name}: as the bench asks", world, (*WORDS, *MOVES), BENCH, question, times=10),
            Row(
                f"{name}: at the limit",
                replace(world, at_limit=1.0),
                (Check("GO", go_share, None, 0.06), Check("NO-GO", no_go_share, None, 0.06)),
                BENCH,
                question,
                times=10,
            ),
        ]
    return rows


def hands() -> list[Row]:
    """Hands three times noisier than set, heavy tails, drift, wavy scales.

    After a hot cut without seats no rule brings 95 % of the easy ones to an end with a hand three times noisier: who
    knows all of the noise beforehand brings 87 % (oracle.py). That row is reported.
    """
    rows = []
    kinds = {
        NOISIER: (Hand(noisier=3.0), 0.91, 0.87),
        "heavy tails": (Hand(heavy=True, wavy=True), None, None),
        "drifting zero": (Hand(drift=0.005, wavy=True), None, None),
    }
    for name, world, question in FOUR:
        for kind, (hand, ten, two) in kinds.items():
            noisy = replace(world, hand=hand)
            ask_all = replace(question, groups=ALL_GROUPS)
            rows += [
                Row(
                    f"{name}, {kind}: all ten twice",
                    noisy,
                    (Check("coverage", coverage_of("squareness"), ten), Check("lowest of all", lowest_coverage)),
                    TEN_TWICE,
                    ask_all,
                ),
                Row(
                    f"{name}, {kind}: diagonals twice",
                    noisy,
                    (Check("coverage", coverage_of("squareness"), two),),
                    BOTH_TWICE,
                    question,
                ),
                Row(
                    f"{name}, {kind}: as the bench asks",
                    noisy,
                    (
                        Check("NO-GO on good", no_go_on_good, None, 0.01),
                        Check("within 3/4 ended", easy_ones_ended, None if kind == NOISIER and world is HOT else 0.95),
                        *WORDS[:2],
                    ),
                    BENCH,
                    question,
                ),
            ]
    return rows


def one_slip() -> list[Row]:
    """One reading is not what it claims to be."""
    kinds: dict[str, slips.Slip] = {
        "misread 0.02 to 20": slips.misread_one,
        **{f"diagonal off {size}": slips.misread_diagonal(size) for size in (0.1, 0.13, 0.16, 0.2, 0.5, 0.8)},
        "digits transposed": slips.transposed_digits,
        "wrong feature": slips.wrong_feature,
    }
    return [
        Row(f"{name}, {kind}", replace(world, slip=slip), (*MOVES, *WORDS[:2]), BENCH, question, times=10)
        for name, world, question in FOUR
        for kind, slip in kinds.items()
    ]


def wrong_names() -> list[Row]:
    """Made alike in all readings: names exchanged, coupon turned over, design turned in the cutting software.

    The mark is answered truthfully; with keyed seats a coupon turned over is not even looked at.
    """
    equal = replace(KEYED_WORLD, coupon=EQUAL)
    asks = Question(wants_move=True)
    mirrored = replace(asks, answers=Answers(mark=MarkSeen.MIRRORED))
    rows = []
    for name, world, features in (
        ("keyed", KEYED_WORLD, QUICK),
        ("equal seats, corners", equal, QUICK + CORNERS),
        ("without seats, corners", WITHOUT, QUICK + CORNERS + CORNERS),
    ):
        exchanged = replace(world, slip=slips.diagonals_exchanged)
        over = replace(world, slip=slips.turned_over)
        rows += [
            Row(f"{name}, diagonals exchanged", exchanged, WRONG_WAY, fixed(features), asks, times=10),
            Row(f"{name}, diagonals exchanged, as the bench asks", exchanged, WRONG_WAY, BENCH, asks),
            Row(
                f"{name}, turned over",
                over,
                WRONG_WAY,
                fixed(features),
                asks if world is KEYED_WORLD else mirrored,
                times=10,
            ),
        ]
        for turns, mark in ((1, MarkSeen.NR), (2, MarkSeen.FR), (3, MarkSeen.FL)):
            turned = replace(asks, answers=Answers(mark=mark))
            design = replace(world, quarter_turns=turns)
            rows.append(
                Row(f"{name}, design turned by {turns}/4", design, WRONG_WAY, fixed(features), turned, times=10)
            )
    return rows


def other_seats() -> list[Row]:
    """The coupon has seats and was said to have none, or the other way round: nothing but a look at it tells, so no
    word may settle and no move be given. Which of two widths it has, its lengths hardly show: reported."""
    equal = replace(KEYED_WORLD, coupon=EQUAL)
    told = (Check("settled", lambda results: float(results.settled.mean()), None, 0.005), *WRONG_WAY)
    shown = tuple(replace(check, most=None) for check in told)
    return [
        Row(f"{cut}, said {name}{how}", world, checks, judge, Question(wants_move=True), times, said=said)
        for cut, world, name, said, checks in (
            ("keyed", KEYED_WORLD, "without", BARE, told),
            ("without", WITHOUT, "keyed", KEYED, told),
            ("equal", equal, "without", BARE, told),
            ("without", WITHOUT, "equal", EQUAL, told),
            ("keyed", KEYED_WORLD, "equal", EQUAL, shown),
            ("equal", equal, "keyed", KEYED, shown),
        )
        for how, judge, times in (("", BOTH_TWICE, 10), (", as the bench asks", BENCH, 1))
    ]


def without_a_gauge() -> list[Row]:
    """Only lengths are read: a try square against the light, or a reversal check, tells the direction."""
    asks = Question(wants_move=True)
    rows = []
    for kind, witness in (("try square", by_light), ("reversal check", by_reversal)):
        for name, world in (("equal seats", replace(KEYED_WORLD, coupon=EQUAL)), ("keyed", KEYED_WORLD)):
            exchanged = replace(world, slip=slips.diagonals_exchanged)
            fixed_on = fixed(QUICK)
            rows.append(Row(f"{name}, {kind}", world, MOVES, fixed_on, asks, 10, witness))
            rows.append(Row(f"{name}, {kind}, diagonals exchanged", exchanged, WRONG_WAY, fixed_on, asks, 10, witness))
    return rows


def burnt() -> list[Row]:
    """Both corners of one diagonal burnt 0.4 mm more than the others."""
    no_move = Check("no move of NO-GO", no_move_of_no_go, 0.92)
    return [
        Row("keyed, burnt 0.4", replace(KEYED_WORLD, burnt_mm=0.4), (*WORDS, *MOVES), BENCH, times=10),
        Row("without seats, burnt 0.4", replace(WITHOUT, burnt_mm=0.4), (no_move, *REPORTED), BENCH),
    ]


def kerf() -> list[Row]:
    """Kerf from nothing to 3 mm, one that grows on the way round; then geometry alone, without any other error.

    Of four seats cut one after another by a tool that wears, those of one diagonal come later: whichever edge is begun
    with, they lie 0.2 or 0.3 of the growth nearer together. That is form of the seats, 0.02 mm at a growth of 0.1, and
    more than U allows for unless it is told; without that the shares of moves are reported.
    """
    perfect = Instrument(scatter=0.0, linearity=0.0, zero=0.0, resolution=1e-6)
    wide = replace(KEYED_WORLD, kerf_mm=(0.0, 3.0))
    bare = replace(wide, edge_form=0.0, seat_form=0.0, hand=Hand(caliper=perfect, gauge=perfect))
    grows = replace(wide, kerf_growth=0.1)
    consistent = Check("inconsistent", inconsistent, None, 0.0005)
    off = Check("largest error of skew, mm", largest_skew_error, None, 0.02, percent=False)
    return [
        Row("keyed, kerf 0 to 3", wide, (consistent, *WORDS, *MOVES), BENCH),
        Row("keyed, kerf grows 0.1", grows, (consistent, *WORDS, *REPORTED[len(WORDS) :]), BENCH),
        Row("keyed, kerf grows 0.1, told as form 0.03", grows, (consistent, *WORDS, *MOVES), BENCH, TOLD_GROWTH),
        Row("keyed, kerf 0 to 3, diagonals alone", bare, (consistent, off), BOTH_TWICE),
        Row("keyed, kerf 0 to 3, all ten", bare, (consistent, off), TEN_TWICE, Question(groups=ALL_GROUPS)),
    ]


def readings() -> list[Row]:
    """How many readings it takes."""
    checked = MeasuringSetup(gauge=replace(DEFAULT_GAUGE, zero_sd=0.03))
    well_set = Hand(gauge=replace(GAUGE, zero=0.03))
    settle = (
        Check("to settled", readings_to("settled_after"), None, 4.4, percent=False),
        Check("never settle", never_settled, None, 0.10),
        Check("... not told", unsettled_and_not_told, None, 0.0),
        Check("NO-GO with a move", moves_of_no_go, 0.98, None),
    )

    def to_move(most: float) -> Check:
        return Check("to a move", readings_to("moved_after"), None, most, percent=False)

    equal = replace(KEYED_WORLD, coupon=EQUAL)
    judge = as_the_bench_asks()
    return [
        Row("keyed seats", KEYED_WORLD, (*settle, to_move(4.4)), judge),
        Row(
            "equal seats, gauge checked",
            replace(equal, hand=well_set),
            (*settle, to_move(6.6)),
            judge,
            Question(setup=checked),
        ),
        Row("equal seats, gauge unchecked", equal, (*settle, to_move(7.5)), judge),
        Row("without seats", WITHOUT, (settle[0], settle[3], to_move(8.6)), judge),
    ]


TABLES: dict[str, Callable[[], list[Row]]] = {
    "assumptions": assumptions,
    "hands": hands,
    "slips": one_slip,
    "names": wrong_names,
    "other-seats": other_seats,
    "no-gauge": without_a_gauge,
    "burnt": burnt,
    "kerf": kerf,
    "readings": readings,
}
