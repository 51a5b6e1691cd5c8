"""A session of the archive with all that a download tells of it: its machine's profile, the coupon before it,
and the last checks of its instruments."""

from msgspec.structs import replace

from core.errors import BadInputError
from core.records.archive import Archive
from core.records.instrument_book import instruments_of
from core.records.session import Session
from core.records.session_record import SessionRecord, record_session
from core.said import Name, said


def archived_session(archive: Archive, session_id: str) -> Session:
    """Raises BadInputError when there is no such session."""
    events = archive.events(session_id)
    if not events:
        raise BadInputError(said("there is no session {session_id} in the archive", session_id=Name(session_id)))
    return Session.from_events(events)


def archived_record(archive: Archive, session_id: str) -> SessionRecord:
    """Raises BadInputError when there is no such session, or nothing in it to report."""
    session = archived_session(archive, session_id)
    profiles = {profile.name: profile for profile in archive.machines()}
    record = record_session(
        session_id,
        session,
        profile=profiles.get(session.opened.machine),
        before=archive.closed_before(session_id),
        checks=archive.checks_up_to(session_id, instruments_of(session)),
        machine_log=archive.machine_log(session.opened.machine),
    )
    return replace(
        record,
        logged_elsewhere=archive.shop.shared_logs(session.opened.machine),
        bench=archive.shop.measured_at([session_id]).get(session_id, ""),
    )
