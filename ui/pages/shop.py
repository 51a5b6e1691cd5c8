"""What the shop screen says: what would be sent, asked before joining; how the bench stands to its shop; leaving. Pure.

Input: the snapshot, and how far the person has read. Output: a page.
"""

from __future__ import annotations

from enum import StrEnum

from msgspec import Struct
from msgspec.structs import replace

from core.records import MachineAnswer, ShopState
from core.said import NOTHING, Name, Part, Said, Time, lines, said, said_counted
from ui.bench import JoinShop, KeepShopFile, LeaveShop, LookForShop, WipeShopFile, say_which_machine
from ui.pages.errand import FAILED, LOOKING, NOT_ASKED, WRITING, ErrandPage, Lamp
from ui.pages.theme import Shape
from ui.state import Command, ShopFile, ShopStage, Snapshot

ALONE: Lamp = (Shape.RING, said("ALONE"), said("nothing leaves this bench"))
JOINED: Lamp = (Shape.DISC, said("IN A SHOP"), said("sent beside the bench, which never waits"))
HINDERED: Lamp = (Shape.HALF_DIAMOND, said("NOT REACHED"), said("nothing is lost: it waits here"))
ASKS: Lamp = (Shape.RING, said("SAME MACHINE?"), said("equal names prove nothing"))
ANSWERED: Lamp = (Shape.RING, said("YOU SAID"), said("say it anew where it was wrong"))
OLDER_CARD: Lamp = (Shape.HALF_DIAMOND, said("OLDER CARD?"), said("nothing was overwritten"))


class Touch(StrEnum):
    """What can be touched; a file of several by its number behind FILE."""

    LOOK = "look"
    FILE = "file-"
    BACK = "back"
    GO_ON = "go-on"
    WITHOUT_NAMES = "without-names"
    WITH_NAMES = "with-names"
    JOIN = "join"
    READ_AGAIN = "read-again"
    STAY_ALONE = "stay-alone"
    WIPE = "wipe"
    KEEP_FILE = "keep-file"
    SAME = "same"
    OTHER = "other"
    AGAIN = "again"
    LEAVE = "leave"
    LEAVE_NOW = "leave-now"
    STAY = "stay"
    ANSWERS = "answers"
    AS_SAID = "as-said"
    WRONG = "wrong"
    NEW_BENCH = "new-bench"


class Reading(StrEnum):
    """How far the person has read before joining, or what was touched of a bench that is in a shop."""

    NOTHING = "nothing"
    NAMES = "names"
    SENT = "sent"
    NOT_SENT = "not-sent"
    LEAVING = "leaving"
    ANSWERS = "answers"


class ShopAsked(Struct, frozen=True, kw_only=True):
    """What the screen keeps: the file that was chosen, whether names of people go along, how far it was read; that the
    bench is to be another one to its shop; and which answer is looked at."""

    reading: Reading = Reading.NOTHING
    path: str = ""
    names: bool = False
    new_bench: bool = False
    answer: int = 0

    def after(self, touched: str, snapshot: Snapshot) -> ShopAsked:
        """How far it is after a touch."""
        match touched:
            case Touch.WITHOUT_NAMES | Touch.WITH_NAMES:
                return replace(self, names=touched == Touch.WITH_NAMES, reading=Reading.SENT)
            case Touch.GO_ON:
                return replace(self, reading=Reading.NOT_SENT)
            case Touch.READ_AGAIN:
                return replace(self, reading=Reading.SENT)
            case Touch.BACK if self.reading is Reading.SENT:
                return replace(self, reading=Reading.NAMES)
            case Touch.LEAVE:
                return ShopAsked(reading=Reading.LEAVING)
            case Touch.NEW_BENCH:
                return ShopAsked(new_bench=True)
            case Touch.LOOK:
                return ShopAsked(new_bench=self.new_bench)
            case Touch.ANSWERS:
                return ShopAsked(reading=Reading.ANSWERS)
            case Touch.AS_SAID if self.answer + 1 < len(_answers(snapshot)):
                return replace(self, answer=self.answer + 1)
            case _ if touched.startswith(Touch.FILE):
                file = snapshot.shop.files[int(touched.removeprefix(Touch.FILE))]
                return ShopAsked(reading=Reading.NAMES, path=file.path, new_bench=self.new_bench)
            case _:
                return ShopAsked()

    def command(self, touched: str, snapshot: Snapshot) -> Command | None:
        """What a touch tells the bench; None where it only reads on."""
        state = snapshot.records.shop
        match touched:
            case Touch.JOIN:
                return JoinShop(path=self.path, names=self.names, new_bench=self.new_bench)
            case Touch.WRONG if self.answer < len(_answers(snapshot)):
                answered = _answers(snapshot)[self.answer]
                return say_which_machine(question=answered.question, same=not answered.same)
            case Touch.SAME | Touch.OTHER if state is not None and state.questions:
                return say_which_machine(question=state.questions[0], same=touched == Touch.SAME)
            case _:
                return _TOLD.get(touched)


_TOLD: dict[str, Command] = {
    Touch.LOOK: LookForShop(),
    Touch.WIPE: WipeShopFile(),
    Touch.KEEP_FILE: KeepShopFile(),
    Touch.LEAVE_NOW: LeaveShop(),
}
_SENT_TEXT = said(
    "It is sent every finished coupon of this bench with readings, notes and verdict; what was done to each machine; "
    "the names of machines and of this bench."
)
_OLDER_CARD_TEXT = said(
    "The shop knows more than this card: an older one was put in. As a new bench it sends on, by a new file on its "
    "keeper's stick."
)
_NOT_SENT_TEXT = said(
    "Never sent: descriptions of machines, settings, sounds, an open coupon. Leaving later keeps all of it here; what "
    "was sent stays there."
)


def _answers(snapshot: Snapshot) -> tuple[MachineAnswer, ...]:
    return snapshot.records.shop.answers if snapshot.records.shop is not None else ()


def _stay(asked: ShopAsked) -> tuple[str, Said]:
    return Touch.STAY_ALONE.value, said("Leave it so") if asked.new_bench else said("Stay alone")


def shop_page(snapshot: Snapshot, asked: ShopAsked) -> ErrandPage:
    """The page."""
    shop, state = snapshot.shop, snapshot.records.shop or ShopState()
    if shop.stage.is_busy:
        return ErrandPage(lamp=LOOKING if shop.stage is ShopStage.LOOKING else WRITING)
    if shop.joined_by:
        return _wipe_page(snapshot)
    if state.membership is None or asked.new_bench:
        return _alone_page(snapshot, asked)
    if asked.reading is Reading.LEAVING:
        text = said("Leave {shop}? Everything stays here; what was sent stays there.", shop=Name(state.membership.shop))
        choices = ((Touch.LEAVE_NOW.value, said("Be alone again")), (Touch.STAY.value, said("Stay in it")))
        return ErrandPage(lamp=NOT_ASKED, text=text, choices=choices)
    if state.questions:
        choices = ((Touch.SAME.value, said("The same")), (Touch.OTHER.value, said("Another one")))
        return ErrandPage(lamp=ASKS, text=state.questions[0].text, choices=choices)
    if asked.reading is Reading.ANSWERS and state.answers:
        return _answer_page(state.answers[min(asked.answer, len(state.answers) - 1)])
    offered = (
        (Touch.AGAIN.value, said("Look now")),
        *(((Touch.ANSWERS.value, said("Which machines")),) if state.answers else ()),
        *(((Touch.NEW_BENCH.value, said("Older card?")),) if state.forked else ()),
        # At the right end, however many there are: there nothing comes up that leaves it.
        (Touch.LEAVE.value, said("Leave the shop")),
    )
    return ErrandPage(lamp=HINDERED if state.hindrance else JOINED, text=_standing(state), choices=offered)


def _answer_page(answered: MachineAnswer) -> ErrandPage:
    """What was said of a machine; whoever says the other thing of it does so where nothing led here."""
    wrong = said("Another one") if answered.same else said("The same")
    choices = ((Touch.AS_SAID.value, said("It is so")), (Touch.WRONG.value, wrong))
    return ErrandPage(lamp=ANSWERED, text=answered.text, choices=choices)


def _alone_page(snapshot: Snapshot, asked: ShopAsked) -> ErrandPage:
    shop = snapshot.shop
    chosen = next((file for file in shop.files if file.path == asked.path), None)
    if chosen is not None:
        return _asking_page(chosen, asked)
    lamp = OLDER_CARD if asked.new_bench else ALONE
    look: tuple[tuple[str, Part], ...] = ((Touch.LOOK.value, said("Look on the stick")),)
    if asked.new_bench:
        look = (*look, _stay(asked))
    if shop.stage is ShopStage.FAILED:
        return ErrandPage(lamp=FAILED, text=shop.text, choices=look)
    if shop.stage is not ShopStage.FOUND and asked.new_bench:
        return ErrandPage(lamp=lamp, text=_OLDER_CARD_TEXT, choices=look)
    if shop.stage is not ShopStage.FOUND:
        return ErrandPage(
            lamp=ALONE,
            text=lines(
                said("Benches can share each machine's history, in a database of their shop."),
                said("Its keeper puts a file for this bench on a stick: plug it in."),
            ),
            choices=look,
        )
    if not shop.files:
        return ErrandPage(lamp=lamp, text=said("No file that admits a bench is on this stick."), choices=look)
    text = said_counted(
        "This stick admits one bench. Is it this one?",
        "This stick admits several benches. Which one is this?",
        count=len(shop.files),
    )
    choices = tuple((f"{Touch.FILE}{number}", Name(file.bench)) for number, file in enumerate(shop.files))
    return ErrandPage(lamp=lamp, text=text, choices=choices)


def _asking_page(file: ShopFile, asked: ShopAsked) -> ErrandPage:
    """One answer a page, before anything is sent; joining stands where nothing was touched on the way to it."""
    lamp: Lamp = (Shape.RING, said("JOIN?"), Name(file.shop))
    if asked.reading is Reading.SENT:
        choices = ((Touch.BACK.value, said("Names again")), (Touch.GO_ON.value, said("Go on")), _stay(asked))
        return ErrandPage(lamp=lamp, text=_SENT_TEXT, choices=choices)
    if asked.reading is Reading.NOT_SENT:
        choices = ((Touch.JOIN.value, said("Join")), (Touch.READ_AGAIN.value, said("Read again")), _stay(asked))
        return ErrandPage(lamp=lamp, text=_NOT_SENT_TEXT, choices=choices)
    text = lines(
        said("The shop calls this bench {bench}.", bench=Name(file.bench)),
        said("Shall the names of operators and customers go along? Notes go as they were written."),
    )
    choices = (
        (Touch.BACK.value, _stay(asked)[1]),
        (Touch.WITHOUT_NAMES.value, said("Without names")),
        (Touch.WITH_NAMES.value, said("With names")),
    )
    return ErrandPage(lamp=lamp, text=text, choices=choices)


def _wipe_page(snapshot: Snapshot) -> ErrandPage:
    failed = snapshot.shop.stage is ShopStage.FAILED
    text = lines(
        snapshot.shop.text if failed else NOTHING,
        said("{file} holds a password. Wipe it off the stick?", file=Name(snapshot.shop.joined_by)),
    )
    choices = ((Touch.KEEP_FILE.value, said("Leave it there")), (Touch.WIPE.value, said("Wipe it off")))
    return ErrandPage(lamp=FAILED if failed else JOINED, text=text, choices=choices)


def _standing(state: ShopState) -> Part:
    """How it stands: what hinders all, else the first thing refused; the others stand in the terminal's list."""
    assert state.membership is not None
    named = state.refused[:1] if not state.hindrance else ()
    more = len(state.refused) - len(named)
    return lines(
        said("{shop}, as {bench}.", shop=Name(state.membership.shop), bench=Name(state.membership.bench)),
        said("Sent last {time}.", time=Time(state.last_utc)) if state.last_utc else said("Nothing is sent yet."),
        said_counted("{count} log waits.", "{count} logs wait.", count=state.waiting) if state.waiting else NOTHING,
        state.hindrance,
        *named,
        said("Refused besides: {count} (cornerwise shop status).", count=more) if more else NOTHING,
    )
