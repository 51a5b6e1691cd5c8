"""The page of the witness: one question at a time, no direction in it, and a way to a move without an angle gauge."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.geometry.seats import equal_seats, keyed_seats
from core.machine.gantry_correction import Correction, gantry_correction
from core.machine.reversal_check import Overhang, StepGauge
from core.metrology.adjustment import Estimate
from core.metrology.witness import Answers, Light, MarkSeen, WitnessKind
from core.said import Said
from tests.ui.scenes import MARK_AT_NL, ROUTER, SCENES, needing_witness
from ui.bench.desks.measuring import ConfirmMark
from ui.bench.desks.witness import FindByReversal, SeeLight, TryAStep
from ui.pages.correct import correct_page
from ui.pages.verdict import verdict_page
from ui.pages.what_to_do import what_to_do
from ui.pages.witness import SCREENS, Ask, answer, way_after, witness_is_wanted, witness_page
from ui.state.snapshot import Snapshot

EQUAL, KEYED = equal_seats(120.0, 80.0), keyed_seats(120.0, 80.0)


def names(snapshot: Snapshot, way: Ask = Ask.WAYS) -> list[str]:
    return [name for name, _ in witness_page(snapshot, way).choices]


def answered(snapshot: Snapshot, **answers: object) -> Snapshot:
    """The same after something was answered, with the move that follows."""
    now = replace(snapshot.answers, **answers)
    assert snapshot.evaluation is not None
    correction = gantry_correction(snapshot.evaluation, ROUTER, answers=now)
    return replace(snapshot, answers=now, machines=replace(snapshot.machines, correction=correction))


def test_keyed_seats_ask_for_the_mark_alone() -> None:
    snapshot = SCENES["no-mark"]()
    assert witness_is_wanted(snapshot)
    page = witness_page(snapshot)
    assert page.asks is Ask.MARK
    assert {name for name, _ in page.choices} == set(MarkSeen)
    assert answer(snapshot, page.asks, "fr") == ConfirmMark(corner=MarkSeen.FR)
    after = answered(snapshot, mark=MarkSeen.NL)
    assert not witness_is_wanted(after)
    assert witness_page(after).choices[0][0] == "correct"


@pytest.mark.parametrize("mark", [MarkSeen.UNKNOWN, MarkSeen.MIRRORED])
def test_an_unknown_mark_may_be_answered_once_more(mark: MarkSeen) -> None:
    snapshot = answered(SCENES["no-mark"](), mark=mark)
    page = witness_page(snapshot)
    assert page.asks is Ask.MARK
    assert "No correction" in str(page.text)
    assert what_to_do(snapshot).witness


def test_without_a_gauge_four_ways_lead_to_a_move_and_none_names_a_direction() -> None:
    snapshot = SCENES["no-witness"]()
    assert names(snapshot) == ["bench", Ask.LIGHT_NL, Ask.PENCIL, Ask.FEELERS, Ask.TRIAL]
    for way in Ask:
        shown = f"{witness_page(snapshot, way).title} {witness_page(snapshot, way).text}".lower()
        assert not {"longer", "acute", "obtuse", "farther than"} & set(shown.replace(",", " ").split()), way


def test_a_try_square_is_offered_with_seats_only() -> None:
    """From corner to corner burning fools the diagonals, not the square: it proves nothing."""
    bare = replace(SCENES["no-go"](), coupon=SCENES["no-go"]().coupon)
    assert Ask.LIGHT_NL not in names(bare)


@pytest.mark.parametrize(
    ("answers", "witness", "share"),
    [
        ({"light_at_nl": Light.BLADE_END, "light_at_nr": Light.CORNER}, WitnessKind.TRY_SQUARE, 1.0),
        ({"reversal_deg": Estimate(value=0.5, u=0.05)}, WitnessKind.REVERSAL, 1.0),
        ({"names_confirmed": True}, WitnessKind.TRIAL_STEP, 0.25),
        ({"foretold": True}, WitnessKind.FORETOLD, 1.0),
    ],
)
def test_each_way_ends_in_a_move(answers: dict[str, object], witness: WitnessKind, share: float) -> None:
    after = answered(SCENES["no-witness"](), **answers)
    correction = after.machines.correction
    assert isinstance(correction, Correction)
    assert (correction.witness, correction.share) == (witness, share)
    page = witness_page(after)
    assert (page.asks, page.choices[0][0]) == (Ask.NOTHING, "correct")


def test_what_is_chosen_becomes_a_command_or_the_next_question() -> None:
    snapshot = SCENES["no-witness"]()
    assert answer(snapshot, Ask.WAYS, Ask.PENCIL) is Ask.PENCIL
    seen = answer(snapshot, Ask.LIGHT_NL, Light.CORNER)
    assert isinstance(seen, SeeLight)
    assert (seen.corner, seen.light) == ("nl", Light.CORNER)
    assert way_after(Ask.LIGHT_NL) is Ask.LIGHT_NR
    assert way_after(Ask.LIGHT_NR) is Ask.WAYS
    assert isinstance(answer(snapshot, Ask.PENCIL, "lower-lines"), Said)
    assert answer(snapshot, Ask.PENCIL, "lower-lines", 1.4) == FindByReversal(
        step_mm=1.4, overhang=Overhang.LOWER, gauge=StepGauge.LINES
    )
    assert answer(snapshot, Ask.FEELERS, "none-feeler", 3.0) == FindByReversal(
        step_mm=0.0, overhang=Overhang.NONE, gauge=StepGauge.FEELER
    )
    assert answer(snapshot, Ask.TRIAL, "yes") == TryAStep()
    assert answer(snapshot, Ask.TRIAL, Ask.WAYS) is Ask.WAYS


def test_what_contradicts_is_said_and_another_way_stays_open() -> None:
    other = answered(SCENES["no-witness"](), light_at_nl=Light.CORNER, light_at_nr=Light.BLADE_END)
    page = witness_page(other)
    assert page.asks is Ask.WAYS
    assert "leaning the other way" in str(page.text)
    wrong = answered(SCENES["no-witness"](), light_at_nl=Light.CORNER, light_at_nr=Light.CORNER)
    assert "square is not square" in str(witness_page(wrong).text)


def test_the_verdict_leads_there_and_says_what_is_missing() -> None:
    for scene, words in (
        ("no-mark", "First say where the mark was"),
        ("no-witness", "No move yet: it needs a witness"),
    ):
        page = verdict_page(SCENES[scene]())
        assert str(page.do.text) == words
        assert (page.next_screen, page.finishes, page.other_way) == ("witness", False, False)
        assert ("witness", "Answer one question") in [
            (name, str(said)) for name, said in correct_page(SCENES[scene]()).actions
        ]
        # A coupon that is finished can be answered for as well.
        assert verdict_page(replace(SCENES[scene](), closed=True)).next_screen == "witness"


def test_an_edge_is_never_asked_for_as_a_witness() -> None:
    """Without a gauge the next reading is an edge's, for the part: 'read near edge: a move needs a witness', once."""
    do = what_to_do(SCENES["no-witness"]())
    assert (do.measure, do.witness) == (None, True)


def test_nothing_is_asked_where_no_answer_helps() -> None:
    for scene in ("first", "go", "inconsistent", "practice-open"):
        snapshot = SCENES[scene]()
        assert not witness_is_wanted(snapshot), scene
        page = witness_page(snapshot)
        assert page.asks is Ask.NOTHING
        assert all(name in SCREENS for name, _ in page.choices)
    assert not witness_is_wanted(needing_witness(KEYED, MARK_AT_NL))
    assert witness_is_wanted(needing_witness(EQUAL, Answers()))
