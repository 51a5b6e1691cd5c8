-- What is held against an entry before it is in, once for sessions and machines' logs; and a machine's list and chart
-- out of an index alone, which in a large shop would read a page of the table for every coupon.

CREATE FUNCTION cornerwise.is_new(
    log text, entries integer, head text, kept text,
    sequence integer, time_utc text, kind text, version integer, payload text, chain text
) RETURNS boolean LANGUAGE plpgsql STABLE SET search_path = cornerwise, pg_temp AS $body$
BEGIN
    IF sequence <= entries THEN
        IF kept = chain THEN
            RETURN false;
        END IF;
        RAISE EXCEPTION '%, entry %: another one stands there', log, sequence USING ERRCODE = 'CW003';
    END IF;
    IF sequence > entries + 1 THEN
        RAISE EXCEPTION '%, entry %: one before it is missing', log, sequence USING ERRCODE = 'CW001';
    END IF;
    IF cornerwise.link(head, sequence, time_utc, kind, version, payload) <> chain THEN
        RAISE EXCEPTION '%, entry %: it does not verify', log, sequence USING ERRCODE = 'CW002';
    END IF;
    RETURN true;
END $body$;
COMMENT ON FUNCTION cornerwise.is_new IS 'Whether an entry goes behind a log of so many entries and this head: false where it (kept) stands there already. Raises CW001, CW002 or CW003.';
REVOKE ALL ON FUNCTION cornerwise.is_new FROM PUBLIC;

CREATE OR REPLACE FUNCTION cornerwise.accept_session_event() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = cornerwise, pg_temp AS $body$
DECLARE
    head cornerwise.session%ROWTYPE;
    kept text;
BEGIN
    SELECT * INTO head FROM cornerwise.session WHERE id = NEW.session FOR UPDATE;
    IF NOT FOUND THEN
        INSERT INTO cornerwise.session (id, bench) VALUES (NEW.session, NEW.bench) ON CONFLICT (id) DO NOTHING;
        SELECT * INTO head FROM cornerwise.session WHERE id = NEW.session FOR UPDATE;
    END IF;
    IF head.bench <> NEW.bench THEN
        RAISE EXCEPTION 'session % is of another bench', NEW.session USING ERRCODE = 'CW004';
    END IF;
    IF NEW.sequence <= head.entries THEN
        SELECT chain INTO kept FROM cornerwise.session_event WHERE session = NEW.session AND sequence = NEW.sequence;
    END IF;
    IF NOT cornerwise.is_new('session ' || NEW.session, head.entries, head.chain, kept,
            NEW.sequence, NEW.time_utc, NEW.kind, NEW.version, NEW.payload, NEW.chain) THEN
        RETURN NULL;
    END IF;
    IF (NEW.kind = 'opened') <> (NEW.sequence = 1) THEN
        RAISE EXCEPTION 'session %, entry %: a session opens once', NEW.session, NEW.sequence USING ERRCODE = 'CW005';
    END IF;
    PERFORM cornerwise.list_session_event(NEW);
    UPDATE cornerwise.session SET entries = NEW.sequence, chain = NEW.chain, changed = pg_current_xact_id()
        WHERE id = NEW.session;
    RETURN NEW;
END $body$;

CREATE OR REPLACE FUNCTION cornerwise.accept_machine_event() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = cornerwise, pg_temp AS $body$
DECLARE
    head cornerwise.machine_log%ROWTYPE;
    kept text;
BEGIN
    INSERT INTO cornerwise.machine_log (bench, log) VALUES (NEW.bench, NEW.log) ON CONFLICT DO NOTHING;
    SELECT * INTO head FROM cornerwise.machine_log WHERE bench = NEW.bench AND log = NEW.log FOR UPDATE;
    IF NEW.sequence <= head.entries THEN
        SELECT chain INTO kept FROM cornerwise.machine_event
            WHERE bench = NEW.bench AND log = NEW.log AND sequence = NEW.sequence;
    END IF;
    IF NOT cornerwise.is_new('log of ' || NEW.log, head.entries, head.chain, kept,
            NEW.sequence, NEW.time_utc, NEW.kind, NEW.version, NEW.payload, NEW.chain) THEN
        RETURN NULL;
    END IF;
    PERFORM NEW.time_utc::timestamptz;
    UPDATE cornerwise.machine_log SET entries = NEW.sequence, chain = NEW.chain, changed = pg_current_xact_id()
        WHERE bench = NEW.bench AND log = NEW.log;
    RETURN NEW;
END $body$;

-- Only what lists and charts show, and what they are narrowed by; the rest is looked up by the session's id.
CREATE INDEX session_listed ON cornerwise.session (bench, machine_name, opened DESC)
    INCLUDE (id, received, closed, simulated, verdict, skew_deg, skew_u95_deg);
DROP INDEX cornerwise.session_by_machine;
-- An index alone answers where the table's pages are known to be settled: look after it as rows come, not once a fifth is new.
ALTER TABLE cornerwise.session SET (autovacuum_vacuum_insert_scale_factor = 0.02, autovacuum_vacuum_scale_factor = 0.05);
