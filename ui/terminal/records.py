"""The records side of the text bench: the machine's history and the download. Pure.

Input: words and the snapshot they answer to; a loaded history. Output: a command, a sentence, or lines to print.
"""

from datetime import UTC, datetime

from msgspec.structs import replace

from core.metrology import Verdict
from core.records import ALL_SESSIONS, History, SessionSummary
from core.said import NOTHING, Angle, Column, Name, Part, Said, Series, Time, lines, said, said_counted
from ui.bench import Download, LookUp, look_up_history
from ui.pages.history import TRENDED_WORDS, filter_text
from ui.pages.label import NOTHING_TO_LABEL, LabelField, label_rows, labelling
from ui.state import Command, DownloadWay, Snapshot
from ui.terminal.help_lines import HelpLines
from ui.terminal.indented import indented

RECORDS_HELP: HelpLines = (
    (
        "history",
        said(
            "the coupons of the machine in use, whether it drifts, and when to check next; "
            "behind it, as wanted: 'machine NAME', a verdict (go no-go undecided inconsistent), "
            "'corrected' (only those that a correction was made from), 'since 2026-11-01'"
        ),
    ),
    ("download [SESSION]", said("write a session onto the stick that is plugged in (this one, or by its name)")),
    (
        "label [FIELD WORDS]",
        said(
            "what the papers say of this coupon; FIELD is one of order, customer, operator, "
            "shop, caliper, gauge (number and last calibration): 'label order B 17'. All but "
            "order and customer stay for the next coupon"
        ),
    ),
    ("note WORDS", said("a note that goes into the record and onto the report")),
    ("cable [SESSION]", said("put it onto the drive that a computer on the USB cable sees")),
)
SHOWN_SESSIONS = 20


def parse_records_line(words: list[str], snapshot: Snapshot) -> Command | Part | None:
    """The command these words mean, or the sentence that answers them; None when they are about something else."""
    match words:
        case ["history", *rest]:
            return _history(rest, snapshot)
        case ["label", *rest]:
            return _label(rest, snapshot)
        case ["note", *text] if text:
            return labelling(snapshot, LabelField.NOTE, " ".join(text))
        case ["download" | "cable" as word]:
            return _download(word, snapshot.session) if snapshot.session else said("No coupon is on the bench.")
        case ["download" | "cable" as word, session]:
            return _download(word, session)
        case _:
            return None


def _history(rest: list[str], snapshot: Snapshot) -> LookUp | Said:
    machine = snapshot.machines.current.name if snapshot.machines.current else snapshot.machine
    only = ALL_SESSIONS
    while rest:
        match rest:
            case ["machine", machine, *rest]:
                if machine not in (names := [profile.name for profile in snapshot.machines.profiles]):
                    known = Name(", ".join(names)) if names else said("none")
                    return said(
                        "no machine is called '{machine}'; there are: {known}", machine=Name(machine), known=known
                    )
            case ["corrected", *rest]:
                only = replace(only, corrected=True)
            case ["since", day, *rest]:
                try:
                    only = replace(only, since_utc=datetime.strptime(day, "%Y-%m-%d").replace(tzinfo=UTC))
                except ValueError:
                    return said("'{day}' is no day; it reads such as: history since 2026-11-01", day=Name(day))
            case [word, *rest]:
                if word not in list(Verdict):
                    return said(
                        "'{word}' is not understood; it reads such as: history no-go corrected since 2026-11-01",
                        word=Name(word),
                    )
                only = replace(only, verdict=word)
    return look_up_history(machine=machine, only=only)


def _label(rest: list[str], snapshot: Snapshot) -> Command | Said | Series:
    if snapshot.session is None:
        return NOTHING_TO_LABEL
    match rest:
        case []:
            rows = label_rows(snapshot)
            return lines(*(said("{field}: {text}", field=words, text=text) for _, words, text in rows))
        case [field, *text] if field in list(LabelField) and field != LabelField.NOTE:
            return labelling(snapshot, LabelField(field), " ".join(text))
        case _:
            return said("It reads such as: label order B 17")


def _download(word: str, session: str) -> Download:
    return Download(session=session, way=DownloadWay.CABLE if word == "cable" else DownloadWay.STICK)


def history_lines(found: History) -> Series:
    """The newest sessions, one a line, what was done to the machine, and what it all says."""
    told: list[Part] = [_session_line(one, found.benches.get(one.id, "")) for one in found.sessions[:SHOWN_SESSIONS]]
    if found.history is None:
        told.append(said("No coupon is closed yet: nothing can be said of drift."))
    else:
        told += [Series((Time(mark.time_utc, clock=False), mark.text), joint="  ") for mark in found.history.marks]
        told += [
            said("{trend}: {what}", trend=words, what=found.history.text(trended)) for trended, words in TRENDED_WORDS
        ]
        told += [found.history.check_next, found.history.worked_out_by]
    return lines(_heading(found), *(indented(line, "   ") for line in told if line))


def _heading(found: History) -> Said:
    machine = Name(found.machine) if found.machine else said("no machine named")
    listed, count = filter_text(found.only), len(found.sessions)
    if listed:
        return said_counted(
            "== {machine}: {count} coupon, newest first ({listed})",
            "== {machine}: {count} coupons, newest first ({listed})",
            count=count,
            machine=machine,
            listed=listed,
        )
    return said_counted(
        "== {machine}: {count} coupon, newest first",
        "== {machine}: {count} coupons, newest first",
        count=count,
        machine=machine,
    )


def _session_line(summary: SessionSummary, bench: str) -> Series:
    if summary.skew_deg is None or summary.skew_u95_deg is None:
        word: Part = said("nothing judged") if summary.closed else said("open")
        skew: Part = Name("")
    else:
        word = summary.word or NOTHING
        skew = Column(said("skew {skew}", skew=Angle(summary.skew_deg, u_deg=summary.skew_u95_deg, signed=True)), 20)
    columns = (Column(Time(summary.opened_utc), 17), Column(word, 19), skew, Name(summary.id))
    stamp = (Name("  "), said("SIMULATED")) if summary.simulated else ()
    there = (Name("  "), said("at {bench}", bench=Name(bench))) if bench else ()
    return Series((*columns, *stamp, *there), joint="")
