-- What people's views cast is cast before it is in, and lists keep to words and numbers of a sensible size: one row that a
-- view cannot read would make it fail for everybody.

CREATE FUNCTION cornerwise.must_be_readable(time_utc text, kind text, payload text) RETURNS void LANGUAGE plpgsql STABLE
SET search_path = cornerwise, pg_temp AS $body$
DECLARE
    value double precision;
BEGIN
    -- This form alone says the same to everybody, whatever a session has set of dates and zones.
    IF time_utc !~ '^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,9})?(Z|[+-][0-9]{2}:[0-9]{2})$' THEN
        RAISE EXCEPTION 'no time: %', left(time_utc, 40) USING ERRCODE = 'invalid_datetime_format';
    END IF;
    PERFORM time_utc::timestamptz;
    PERFORM payload::json;
    IF kind = 'reading-accepted' THEN
        value := payload::jsonb #>> '{reading,value}';
        IF NOT value BETWEEN -1e6 AND 1e6 THEN
            RAISE EXCEPTION 'no reading: %', value USING ERRCODE = 'numeric_value_out_of_range';
        END IF;
    ELSIF kind IN ('correction-applied', 'event') THEN
        PERFORM payload::jsonb;
    END IF;
END $body$;
COMMENT ON FUNCTION cornerwise.must_be_readable IS 'Raises for an entry that the views machine_marks and readings could not show.';
REVOKE ALL ON FUNCTION cornerwise.must_be_readable FROM PUBLIC;

-- Rows of before are left as they are.
ALTER TABLE cornerwise.session ADD CONSTRAINT short_words
    CHECK (length(machine_name) <= 200 AND length(verdict) <= 40 AND length(size_verdict) <= 40) NOT VALID;
ALTER TABLE cornerwise.session ADD CONSTRAINT finite
    CHECK (width_mm BETWEEN 0 AND 1e6 AND height_mm BETWEEN 0 AND 1e6
        AND skew_deg BETWEEN -1e6 AND 1e6 AND skew_u95_deg BETWEEN 0 AND 1e6
        AND scale_x BETWEEN -1e6 AND 1e6 AND scale_x_u95 BETWEEN 0 AND 1e6
        AND scale_y BETWEEN -1e6 AND 1e6 AND scale_y_u95 BETWEEN 0 AND 1e6) NOT VALID;

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
    PERFORM cornerwise.must_be_readable(NEW.time_utc, NEW.kind, NEW.payload);
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
    PERFORM cornerwise.must_be_readable(NEW.time_utc, NEW.kind, NEW.payload);
    UPDATE cornerwise.machine_log SET entries = NEW.sequence, chain = NEW.chain, changed = pg_current_xact_id()
        WHERE bench = NEW.bench AND log = NEW.log;
    RETURN NEW;
END $body$;
