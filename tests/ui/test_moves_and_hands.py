"""Every place that says a move or asks for a hand says what comes before it, in both languages.

The table is `PLACES`: name, what is said there, and the cautions that belong to it. What is real runs: commands, the
report, the page for a browser, the card. A module that words a way of moving and has no row fails the last test.
"""

from __future__ import annotations

import ast
import contextlib
import html
import io
import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pypdf
import pytest
from msgspec import Struct
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.machine.cautions import cautions_of_cutting
from core.machine.gantry_correction import Correction
from core.machine.procedure import Power, Stage
from core.machine.profile import MachineProfile, Process
from core.records.archive import Archive
from core.records.comparison import reported_record
from core.records.coupon_card import coupon_card
from core.records.export import files_of
from core.records.saved_bench import ARCHIVE
from core.said import Part, Said, Series, paragraph, said
from tests.ui.scenes import SCENES
from tests.ui.terminal.test_text_bench import TYPED
from ui.command_line import cli
from ui.pages.causes import Page, causes_page
from ui.pages.correct import correct_page
from ui.pages.cutting import cutting_page
from ui.pages.design import design_page
from ui.pages.verdict import verdict_page
from ui.pages.witness import Ask, witness_page
from ui.speech.language import Language
from ui.speech.speech import Speech
from ui.start import BenchOptions, assembled
from ui.state.settings import Settings, SettingsFile
from ui.state.snapshot import MachinesSlice
from ui.state.stick import DesignStage
from ui.terminal.causes import parse_causes_line
from ui.terminal.machine import guided_lines
from ui.terminal.text_bench import TextBench
from ui.terminal.verdict import verdict_text

ENGLISH, GERMAN = Speech(), Speech(language=Language.GERMAN)
# What whoever is told a move is told in the same breath; what is said before hands go in.
BREATH = {
    ENGLISH: ("power off and unplugged", "cutter out", "maker's instructions", "local codes", "licensed practice"),
    GERMAN: (
        "ausgeschaltet",
        "netzstecker gezogen",
        "werkzeug heraus",
        "herstellerangaben",
        "vorschriften",
        "fachkräfte",
    ),
}
FIRST = {ENGLISH: ("maker's instructions", "local codes"), GERMAN: ("hersteller", "örtliche vorschriften")}
ROUTER = {
    ENGLISH: ("hearing protection", "held down", "dust", "hands "),
    GERMAN: ("gehörschutz", "gespannt", "absaugung", "hände und werkzeug heraus"),
}
LASER = {
    ENGLISH: ("alone", "extraction", "extinguisher", "no pvc", "unknown plastic", "eyewear"),
    GERMAN: (
        "unbeaufsichtigt",
        "absaugung",
        "feuerlöscher",
        "kein pvc",
        "kein unbekannter kunststoff",
        "laserschutzbrille",
    ),
}
ROUTER_IN_SHORT = {
    ENGLISH: ("hands and tools out", "covers on", "eyes, ears, dust", "held"),
    GERMAN: ("hände und werkzeug heraus", "abdeckungen zu", "augen, ohren, staub", "gespannt"),
}
LASER_IN_SHORT = {
    ENGLISH: ("covers on", "interlocks", "eyewear", "alone", "no pvc"),
    GERMAN: ("abdeckungen zu", "verriegelung wirksam", "laserbrille", "unbeaufsichtigt", "kein pvc"),
}
ON_PAPER = {
    ENGLISH: ("everything stands still", "eyes, ears and lungs", "laser alone"),
    GERMAN: ("alles steht", "augen, ohren und lunge", "unbeaufsichtigt"),
}
WAYS = {
    ENGLISH: ("nearer to you", "farther from you", "NEARER", "AWAY"),
    GERMAN: ("zu sich heran", "von sich weg", "HERAN", "WEG"),
}
Words = dict[Speech, tuple[str, ...]]
COUPON = Coupon(width_mm=120.0, height_mm=80.0)
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
HEADER = "feature,value,unit\n"
ROWS = "".join(f"{line.replace(' ', ',')},{'deg' if len(line.split()[0]) == 2 else 'mm'}\n" for line in TYPED)


class World:
    """A folder with a coupon measured twice over on a described machine, and the commands as a person calls them."""

    def __init__(
        self, folder: Path, speech: Speech, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ):
        self.folder, self.speech, self.capsys = folder, speech, capsys
        SettingsFile(folder).save(Settings(language=speech.language))
        monkeypatch.setenv("CORNERWISE_DATA", str(folder))
        monkeypatch.setattr("sys.stdin", io.StringIO())
        (folder / "coupon.csv").write_text(HEADER + ROWS + ROWS, encoding="utf-8")

    def command(self, *arguments: str) -> str:
        """What the command prints, `--help` too."""
        self.capsys.readouterr()
        with contextlib.suppress(SystemExit):
            cli.main(arguments)
        return "".join(self.capsys.readouterr())

    def text_bench(self, *lines: str) -> str:
        """What the text bench says to these lines, the coupon measured before them."""
        out = io.StringIO()
        machine = "machine mine span_mm=640 held=screws screw_pitch_mm=1"
        with assembled(BenchOptions(folder=self.folder)) as bench:
            TextBench(bench, out, columns=None).run(
                (machine, "new 120x80", "mark", *TYPED, *TYPED, *lines), quit_at_end=True
            )
        return out.getvalue()

    def evaluated(self, *options: str) -> str:
        """What `evaluate` prints."""
        return self.command("evaluate", str(self.folder / "coupon.csv"), "--span", "640", *options)

    def download(self, name: str) -> str:
        """A file of the coupon's download as text."""
        self.text_bench("close")
        archive = Archive.open(self.folder / ARCHIVE, lambda: NOON)
        try:
            content = files_of(reported_record(archive, archive.sessions()[0].id), self.speech.on_paper)[name]
        finally:
            archive.close()
        return paper(content) if name.endswith(".pdf") else html.unescape(re.sub("<[^>]*>", " ", content.decode()))


def paper(content: bytes) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(content)).pages)


def correction() -> Correction:
    found = SCENES["to-correct"]().machines.correction
    assert isinstance(found, Correction)
    return found


def on(screen: Callable[[], Part]) -> Callable[[World], str]:
    return lambda world: world.speech.say(screen())


def before() -> Part:
    page = correct_page(SCENES["to-correct"]())
    assert not isinstance(page.title, str)
    assert not isinstance(page.text, str)
    return paragraph(page.title, page.text)


def to_do() -> Part:
    do = verdict_page(SCENES["to-correct"]()).do
    return paragraph(do.text, do.caution)


def judged() -> Part:
    snapshot = SCENES["to-correct"]()
    assert snapshot.evaluation is not None
    text = verdict_text(snapshot.evaluation, snapshot.machines.correction)
    assert not isinstance(text, str)
    return text


def trial() -> Part:
    unproven = replace(correction().order, condition=said("Its direction is not proven."))
    return paragraph(unproven.told, *unproven.in_large)


def causes(page: Page) -> Callable[[World], str]:
    return lambda world: world.speech.say(causes_page(SCENES["to-correct"](), page).text)


def typed(line: str) -> Callable[[World], str]:
    def say(world: World) -> str:
        answer = parse_causes_line(line.split(), SCENES["to-correct"]())
        assert isinstance(answer, Said | Series)
        return world.speech.say(answer)

    return say


def machine_with(process: Process) -> MachineProfile:
    return MachineProfile(name="m", span_mm=640.0, process=process)


def one_by_one(machine: MachineProfile | None) -> Callable[[World], str]:
    """Every page of what comes before cutting on this machine."""
    snapshot = replace(SCENES["to-correct"](), machines=MachinesSlice(current=machine))
    count = len(cautions_of_cutting(machine))
    return lambda world: " ".join(world.speech.say(cutting_page(snapshot, n).caution.whole) for n in range(count))


def cut_by(process: Process) -> Callable[[World], str]:
    """The design screen once there is a file to cut."""

    def say(world: World) -> str:
        snapshot = SCENES["to-correct"]()
        current = snapshot.machines.current
        assert current is not None
        machines = replace(snapshot.machines, current=replace(current, process=process))
        design = replace(snapshot.design, stage=DesignStage.DONE, text="coupon.svg")
        page = design_page(replace(snapshot, machines=machines, design=design))
        assert page.main == "cutting"
        return one_by_one(machines.current)(world)

    return say


class Place(Struct, frozen=True):
    """Where something is said that a hand or a machine follows, and what has to stand there with it."""

    says: Callable[[World], str]
    must: tuple[Words, ...] = (BREATH,)
    moves: bool = False  # says end and way


PLACES: dict[str, Place] = {
    "verdict screen, in large": Place(on(to_do), moves=True),
    "Correct before Begin": Place(on(before), moves=True),
    "its details": Place(lambda world: world.speech.say(correct_page(SCENES["to-correct"]()).details), moves=True),
    "a trial step": Place(on(trial), moves=True),
    "text bench: the verdict": Place(on(judged), moves=True),
    "text bench: a whole coupon": Place(lambda world: world.text_bench("close"), moves=True),
    "evaluate": Place(World.evaluated, moves=True),
    "report.pdf": Place(lambda world: world.download("report.pdf"), moves=True),
    "index.html": Place(lambda world: world.download("index.html"), moves=True),
    "a move beside a drawing": Place(on(lambda: correction().order.caption), moves=True),
    "a refused or typed correction": Place(on(lambda: correction().text), moves=True),
    "causes: two gaps": Place(causes(Page.REFERENCE)),
    "causes: belts": Place(causes(Page.BELTS)),
    "causes: to the frame": Place(causes(Page.RESET)),
    "causes: reversal check": Place(causes(Page.REVERSAL), (ROUTER, FIRST)),
    "witness: two coupons": Place(
        lambda world: " ".join(
            world.speech.say(witness_page(SCENES["no-witness"](), Ask.FEELERS, step).text) for step in range(12)
        ),
        (ROUTER, FIRST),
    ),
    "text bench: reference": Place(typed("reference")),
    "text bench: belts": Place(typed("belts")),
    "text bench: reset": Place(typed("reset")),
    "text bench: reversal": Place(typed("reversal"), (ROUTER, FIRST)),
    "cornerwise belts, at its prompt": Place(lambda world: world.command("belts")),
    "design screen, router": Place(cut_by(Process.ROUTER), (ROUTER, FIRST)),
    "design screen, laser": Place(cut_by(Process.LASER), (LASER, FIRST)),
    "design screen, not said": Place(cut_by(Process.OTHER), (ROUTER, LASER, FIRST)),
    "before cutting, router": Place(one_by_one(machine_with(Process.ROUTER)), (ROUTER_IN_SHORT, ROUTER, FIRST)),
    "before cutting, laser": Place(one_by_one(machine_with(Process.LASER)), (LASER_IN_SHORT, LASER, FIRST)),
    "before cutting, no machine": Place(one_by_one(None), (ROUTER_IN_SHORT, LASER_IN_SHORT, ROUTER, LASER, FIRST)),
    "card to take to the machine": Place(
        lambda world: paper(coupon_card(Coupon(width_mm=120.0, height_mm=80.0), world.speech.on_paper)),
        (ON_PAPER, FIRST),
    ),
}
IN_ENGLISH: dict[str, Place] = {  # what is in English in every language
    "session.json": Place(lambda world: world.evaluated("--json")),
    "coupon --help": Place(lambda world: world.command("coupon", "--help"), (LASER, ROUTER, FIRST)),
    "belts --help": Place(lambda world: world.command("belts", "--help"), ({ENGLISH: ("power off and unplugged",)},)),
    "README": Place(lambda _: Path("README.md").read_text(encoding="utf-8"), (LASER, FIRST)),
}


@pytest.fixture
def world(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], request: pytest.FixtureRequest
) -> World:
    return World(tmp_path, getattr(request, "param", ENGLISH), monkeypatch, capsys)


IN_BOTH = pytest.mark.parametrize("world", [ENGLISH, GERMAN], ids=["English", "German"], indirect=True)


@IN_BOTH
@pytest.mark.parametrize("place", PLACES)
def test_nothing_is_asked_of_a_hand_without_its_caution(place: str, world: World) -> None:
    row = PLACES[place]
    heard = " ".join(row.says(world).split())
    missing = [words for must in row.must for words in must[world.speech] if words not in heard.lower()]
    assert not missing, (missing, heard)
    assert not row.moves or any(way in heard for way in WAYS[world.speech]), heard


@pytest.mark.parametrize("place", IN_ENGLISH)
def test_what_is_english_everywhere_has_its_caution_too(place: str, world: World) -> None:
    heard = " ".join(IN_ENGLISH[place].says(world).split()).lower()
    missing = [words for must in IN_ENGLISH[place].must for words in must[ENGLISH] if words not in heard]
    assert not missing, (missing, heard)


@pytest.mark.parametrize("speech", [ENGLISH, GERMAN], ids=["English", "German"])
@pytest.mark.parametrize("scene", ["play", "loosen", "set", "recut"])
def test_every_step_says_the_state_of_power(scene: str, speech: Speech) -> None:
    snapshot = SCENES[scene]()
    guided = snapshot.machines.guided
    assert guided is not None
    assert guided.step is not None
    off = {ENGLISH: "Power off and unplugged.", GERMAN: "Ausgeschaltet und Netzstecker gezogen."}[speech]
    on = {ENGLISH: "Power on, hands and tools out.", GERMAN: "Eingeschaltet, Hände und Werkzeug heraus."}[speech]
    page = correct_page(snapshot)
    for heard in (speech.say(page.power), speech.say(page.details), speech.say(guided_lines(guided))):
        assert (off if guided.step.power is Power.OFF else on) in heard
    assert (page.setting is not None) is (page.to_go is not None) is (guided.stage is Stage.SET)


def test_a_move_is_worded_where_its_caution_is() -> None:
    """`Direction.words` and `.opposite.words` are used by these modules only, and each says what comes before."""
    users, shouted = set(), set()
    for path in [*Path("core").rglob("*.py"), *Path("ui").rglob("*.py")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute) and node.attr == "words" and "direction" in ast.unparse(node.value):
                users.add(path.as_posix())
            if isinstance(node, ast.Name) and node.id == "WAY_WORD":
                shouted.add(path.as_posix())
    assert shouted == {
        "ui/pages/setting.py",  # the figures of the step whose cautions were heeded, below the state of power
        "ui/pages/correct.py",  # the move before it is begun, its caution below it
    }
    assert users == {
        "core/machine/move_order.py",  # the one type that says a move, with its caution
        "core/machine/guided_wording.py",  # behind the state of power, after the cautions of that very step
        "core/machine/parallelism.py",  # the live meter of that step
        "ui/bench/practice.py",  # an exercise on an invented machine
    }
