"""What a screen shows only once something on it was touched: the scene, the screen, the words touched in turn."""

from __future__ import annotations

from msgspec.structs import replace

from core.machine.holding import HowHeld
from core.machine.profile import MachineProfile
from tests.ui.offscreen import Offscreen
from tests.ui.scenes import ROUTER, SCENES
from tests.ui.touching import tap_text
from ui.speech.language import Language
from ui.state.settings import Settings
from ui.state.snapshot import MachinesSlice, Snapshot
from ui.touch.screen import BenchScreen

AS_SUPPLIED = Settings()

# A name is kept as it is given, so the bench offers it in the person's language: what it is called here.
OFFERED_NAMES = {"router 2": {Language.GERMAN: "Fräse 2"}}
# Describing a machine, question after question.
NAMED = ("Describe a new machine", "Router", "router 2")
SPAN_BEGUN = (*NAMED, "Y grows away from me", "Along X", "6")
SPAN_TAKEN = (*SPAN_BEGUN, "4", "0", "Take this number")

TOUCHED: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "typing": ("edges", "bench", ("Type", "1", "2", "0")),
    "gap-typed": ("gaps", "correct", ("Type the gap", "1")),
    "giving-up": ("set", "correct", ("Give up",)),
    "next-coupon": ("to-correct", "causes", ("Next coupon",)),
    "before-after": ("to-correct", "causes", ("Before, after",)),
    "shop-names": ("shop-found", "shop", ("bench by the door",)),
    "shop-sent": ("shop-found", "shop", ("bench by the door", "With names")),
    "shop-not-sent": ("shop-found", "shop", ("bench by the door", "Without names", "Go on")),
    "shop-leaving": ("shop-joined", "shop", ("Leave the shop",)),
    "shop-said-same": ("shop-answered", "shop", ("Which machines",)),
    "shop-said-another": ("shop-answered", "shop", ("Which machines", "It is so")),
    "shop-older-card": ("shop-forked", "shop", ("Older card?",)),
    "shop-new-bench": ("shop-forked-found", "shop", ("Older card?", "bench by the door", "Without names", "Go on")),
    "two-gaps": ("to-correct", "causes", ("Two gaps",)),
    "two-gaps-typed": ("to-correct", "causes", ("Two gaps", "left gap", "1")),
    "belts": ("to-correct", "causes", ("Belts",)),
    "reversal": ("to-correct", "causes", ("Reversal check",)),
    "reversal-typed": ("to-correct", "causes", ("Reversal check", "step found", "1")),
    "reset": ("to-correct", "causes", ("To the frame",)),
    "happened": ("to-correct", "machine", ("Something happened to it",)),
    "machine-cuts": ("to-correct", "machine", ("Describe a new machine",)),
    "machine-name": ("to-correct", "machine", ("Describe a new machine", "Router", "O", "A", "K")),
    "machine-answers": ("to-correct", "machine", ("Change its answers",)),
    "correct-details": ("to-correct", "correct", ("Details",)),
    "set-details": ("set", "correct", ("Details",)),
    "machine-front": ("to-correct", "machine", NAMED),
    "machine-span": ("to-correct", "machine", SPAN_BEGUN),
    "machine-held": ("to-correct", "machine", SPAN_TAKEN),
    "machine-pitch": ("to-correct", "machine", (*SPAN_TAKEN, "Adjusting screws", "1")),
    "machines": ("many-machines", "machine", ()),
    "bench-with-history": ("history", "bench", ()),
    "bench-drifting": ("drifting", "bench", ()),
    "filter": ("drifting", "history", ("Filter",)),
    "filter-machines": ("many-machines", "history", ("Filter",)),
    "filtered": ("drifting", "history", ("Filter", "No-go", "List")),
    "chosen": ("drifting", "history", ("2026-12-08 08:00",)),
    "gauge-check": ("first", "check", ("Angle gauge",)),
    "grid-place": ("grid", "coupon", ("Of grid G1",)),
    "light-nl": ("no-witness", "witness", ("Try square against the light",)),
    "pencil": ("no-witness", "witness", ("Draw along it and turn it over",)),
    "pencil-typed": ("no-witness", "witness", ("Draw along it and turn it over", *["Next step"] * 7, "gap found", "1")),
    "feelers": ("no-witness", "witness", ("Two coupons on one another",)),
    "feelers-found": ("no-witness", "witness", ("Two coupons on one another", *["Next step"] * 11)),
    "before-cutting": ("to-correct", "cutting", ("Next",)),
    "what-it-does": ("design-ready", "design", ("What it does", "Next")),
    "practice-why": ("practice-answered", "practice", ("Why",)),
    "trial": ("no-witness", "witness", ("A trial step",)),
}


def many_machines() -> Snapshot:
    """As many machines as the filter of the history shows side by side, and more than a page of the list."""
    others = tuple(
        MachineProfile(name=f"router {i}", span_mm=640.0, held=HowHeld.SCREWS, screw_pitch_mm=1.0) for i in range(2, 8)
    )
    machines = MachinesSlice(profiles=(ROUTER, *others), current=ROUTER)
    return replace(SCENES["drifting"](), machines=machines)


def touch_until(screen: Offscreen, name: str, settings: Settings = AS_SUPPLIED) -> BenchScreen:
    """Bring the state of this name up by touches, as a person does."""
    scene, shown, words = TOUCHED[name]
    snapshot = many_machines() if scene == "many-machines" else SCENES[scene]()
    screen.show(snapshot if settings is AS_SUPPLIED else replace(snapshot, settings=settings))
    screen.go("bench")  # what a screen was left with is gone when it is entered anew
    if screen.app.root.screen.typing:  # but for this one, which a person leaves by hand
        screen.app.root.screen.change_mode()
    screen.go(shown)
    for word in words:
        tap_text(screen, OFFERED_NAMES.get(word, {}).get(settings.language, word))
    return screen.app.root.screen
