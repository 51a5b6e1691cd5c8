from .accuracy_file import load_setup as load_setup, save_setup as save_setup
from .archive import Archive as Archive
from .archive_file import asked_beside as asked_beside
from .browser import FOLDER as FOLDER
from .browser.pages import drive_of as drive_of
from .carried_on import is_another as is_another
from .checksums import (
    CHECKSUMS_FILE as CHECKSUMS_FILE,
    checksums_text as checksums_text,
    verify_folder as verify_folder,
)
from .comparison import ReportedRecords as ReportedRecords, compared as compared, reported_record as reported_record
from .events import (
    Closed as Closed,
    Event as Event,
    GaugeChecked as GaugeChecked,
    Labelled as Labelled,
    MachineNamed as MachineNamed,
    MarkConfirmed as MarkConfirmed,
    Note as Note,
    Opened as Opened,
    Payload as Payload,
    QuestionAnswered as QuestionAnswered,
    ReadingAccepted as ReadingAccepted,
    ReadingVoided as ReadingVoided,
    ReversalFound as ReversalFound,
    Undone as Undone,
)
from .export import files_of as files_of
from .grid import GridState as GridState, cell_of as cell_of, grid_map as grid_map, grid_state as grid_state
from .history import (
    SHOWN_SESSIONS as SHOWN_SESSIONS,
    Due as Due,
    History as History,
    due_of as due_of,
    history_of as history_of,
)
from .inspection import HitLog as HitLog, inspect as inspect
from .instrument_book import (
    KIND_NAME as KIND_NAME,
    CheckHistory as CheckHistory,
    InstrumentBook as InstrumentBook,
    UsedInstrument as UsedInstrument,
    drift_text as drift_text,
    instrument_shown as instrument_shown,
    last_check_sentence as last_check_sentence,
    name_of as name_of,
    next_check_text as next_check_text,
)
from .outbox import Entry as Entry, LogKind as LogKind, Parcel as Parcel, forked as forked
from .outline import (
    MOST_LIMITS as MOST_LIMITS,
    Outline as Outline,
    outline_of as outline_of,
    outlines_of_proof as outlines_of_proof,
    place_band as place_band,
    place_outline as place_outline,
    place_u as place_u,
)
from .plot_svg import shape_svg as shape_svg
from .readings_csv import ReadingsFile as ReadingsFile, read_readings as read_readings
from .results_json import result_text as result_text
from .saved_bench import (
    ARCHIVE as ARCHIVE,
    SavedBench as SavedBench,
    fetch_bench as fetch_bench,
    newest_saved as newest_saved,
    restore_bench as restore_bench,
    save_bench as save_bench,
    take_fetched_back as take_fetched_back,
)
from .session import (
    QUESTION_CHANGED as QUESTION_CHANGED,
    QUESTION_SEATS as QUESTION_SEATS,
    QUESTION_TRIAL_STEP as QUESTION_TRIAL_STEP,
    QUESTION_TRY_SQUARE as QUESTION_TRY_SQUARE,
    YES as YES,
    InstrumentChange as InstrumentChange,
    NumberedReading as NumberedReading,
    SeatsSeen as SeatsSeen,
    Session as Session,
)
from .session_id import folder_name as folder_name, new_session_id as new_session_id
from .session_record import SessionRecord as SessionRecord
from .session_tables import (
    ALL_SESSIONS as ALL_SESSIONS,
    SessionFilter as SessionFilter,
    SessionSummary as SessionSummary,
)
from .shape_picture import ShapePicture as ShapePicture, StrokeStyle as StrokeStyle
from .shared_history import TOO_LARGE_TO_READ as TOO_LARGE_TO_READ, keep_logs as keep_logs, take_session as take_session
from .shop_records import (
    MachineIdentity as MachineIdentity,
    Mark as Mark,
    Membership as Membership,
    SharedEntry as SharedEntry,
    ShopMachine as ShopMachine,
    ShopRecords as ShopRecords,
    new_bench_id as new_bench_id,
    new_machine_id as new_machine_id,
)
from .shop_state import (
    ALONE as ALONE,
    MachineAnswer as MachineAnswer,
    MachineQuestion as MachineQuestion,
    ShopState as ShopState,
)
from .study_csv import StudyFile as StudyFile, read_study as read_study
from .value_json import dump as dump, to_json as to_json
from .vouched_file import read_vouched as read_vouched, write_vouched as write_vouched
from .whole_writing import (
    sync_path as sync_path,
    write_file as write_file,
    write_folder as write_folder,
    writing_errors as writing_errors,
)
