-- A shop of benches: what each bench measured and did, append-only, each entry held against its chain before it is in.
--
-- Who may do what is a matter of grants, not of promise: a bench logs in as a role of its own, a member of
-- cornerwise_bench. It may read everything and insert as itself; nobody but the owner can change or delete a row.
-- People and dashboards read the views, as members of cornerwise_reader; what they mean stands in their comments.

CREATE SCHEMA cornerwise;
COMMENT ON SCHEMA cornerwise IS 'Coupons measured at several benches. Read the views sessions, machines, machine_marks and readings; the tables are the record.';

DO $body$ BEGIN
    CREATE ROLE cornerwise_bench NOLOGIN;
EXCEPTION WHEN duplicate_object THEN NULL;
END $body$;

DO $body$ BEGIN
    CREATE ROLE cornerwise_reader NOLOGIN;
EXCEPTION WHEN duplicate_object THEN NULL;
END $body$;

CREATE TABLE cornerwise.bench (
    id text PRIMARY KEY CHECK (id ~ '^bench-[0-9a-f]{16}$'),
    role name NOT NULL UNIQUE,
    name text NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    joined timestamptz NOT NULL DEFAULT now()
);

CREATE TABLE cornerwise.machine (
    id text PRIMARY KEY CHECK (id ~ '^machine-[0-9a-f]{16}$'),
    name text NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    bench text NOT NULL REFERENCES cornerwise.bench,
    made timestamptz NOT NULL DEFAULT now()
);

-- What a bench calls a machine. A person who was wrong says so again: the highest number holds, the others stay.
CREATE TABLE cornerwise.machine_name (
    bench text NOT NULL REFERENCES cornerwise.bench,
    name text NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    number integer NOT NULL CHECK (number BETWEEN 1 AND 1000),
    machine text NOT NULL REFERENCES cornerwise.machine,
    said timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (bench, name, number)
);

-- The head of each session's chain, and what lists and charts show of it: kept by the triggers below, by nobody else.
CREATE TABLE cornerwise.session (
    id text COLLATE "C" PRIMARY KEY CHECK (id ~ '^([0-9]{8}-[0-9]{6}|undated)-[0-9a-f]{8}$'),
    bench text NOT NULL REFERENCES cornerwise.bench,
    entries integer NOT NULL DEFAULT 0,
    chain text NOT NULL DEFAULT '',
    machine_name text NOT NULL DEFAULT '',
    opened timestamptz,
    width_mm double precision,
    height_mm double precision,
    simulated boolean NOT NULL DEFAULT false,
    closed boolean NOT NULL DEFAULT false,
    verdict text,
    size_verdict text,
    skew_deg double precision,
    skew_u95_deg double precision,
    scale_x double precision,
    scale_x_u95 double precision,
    scale_y double precision,
    scale_y_u95 double precision,
    received timestamptz NOT NULL DEFAULT now(),
    changed xid8 NOT NULL DEFAULT pg_current_xact_id()
) WITH (fillfactor = 80);
CREATE INDEX session_by_machine ON cornerwise.session (bench, machine_name, opened DESC);
CREATE INDEX session_by_change ON cornerwise.session (changed);

-- The record. A session's id begins with its month, so that the months are partitions of the primary key itself.
CREATE TABLE cornerwise.session_event (
    session text COLLATE "C" NOT NULL,
    sequence integer NOT NULL CHECK (sequence BETWEEN 1 AND 2000),
    bench text NOT NULL,
    time_utc text CHECK (length(time_utc) <= 40),
    kind text NOT NULL CHECK (kind ~ '^[a-z][a-z0-9-]{0,39}$'),
    version integer NOT NULL CHECK (version BETWEEN 1 AND 1000),
    payload text NOT NULL CHECK (octet_length(payload) <= 65536),
    chain text NOT NULL CHECK (chain ~ '^[0-9a-f]{32}$'),
    PRIMARY KEY (session, sequence)
) PARTITION BY RANGE (session);
CREATE TABLE cornerwise.session_event_other PARTITION OF cornerwise.session_event DEFAULT;

CREATE FUNCTION cornerwise.make_months(first_month date, last_month date) RETURNS integer LANGUAGE plpgsql AS $body$
DECLARE
    month date := date_trunc('month', first_month);
    made integer := 0;
    part text;
BEGIN
    WHILE month <= last_month LOOP
        part := 'session_event_' || to_char(month, 'YYYYMM');
        IF to_regclass('cornerwise.' || part) IS NULL THEN
            BEGIN
                EXECUTE format(
                    'CREATE TABLE cornerwise.%I PARTITION OF cornerwise.session_event FOR VALUES FROM (%L) TO (%L)',
                    part, to_char(month, 'YYYYMM'), to_char(month + interval '1 month', 'YYYYMM'));
                made := made + 1;
            EXCEPTION WHEN check_violation THEN
                NULL; -- some of this month lie in session_event_other already: all of it does
            END;
        END IF;
        month := month + interval '1 month';
    END LOOP;
    RETURN made;
END $body$;
COMMENT ON FUNCTION cornerwise.make_months IS 'Partitions for these months, where there are none. What belongs to no month goes to session_event_other.';

CREATE TABLE cornerwise.machine_log (
    bench text NOT NULL REFERENCES cornerwise.bench,
    log text NOT NULL CHECK (length(log) BETWEEN 1 AND 200),
    entries integer NOT NULL DEFAULT 0,
    chain text NOT NULL DEFAULT '',
    changed xid8 NOT NULL DEFAULT pg_current_xact_id(),
    PRIMARY KEY (bench, log)
);

CREATE TABLE cornerwise.machine_event (
    bench text NOT NULL,
    log text NOT NULL,
    sequence integer NOT NULL CHECK (sequence BETWEEN 1 AND 1000000),
    time_utc text CHECK (length(time_utc) <= 40),
    kind text NOT NULL CHECK (kind ~ '^[a-z][a-z0-9-]{0,39}$'),
    version integer NOT NULL CHECK (version BETWEEN 1 AND 1000),
    payload text NOT NULL CHECK (octet_length(payload) <= 65536),
    chain text NOT NULL CHECK (chain ~ '^[0-9a-f]{32}$'),
    PRIMARY KEY (bench, log, sequence)
);

-- The link of an entry (core/records/chain.py): SHA-256 over JSON in ASCII, cut to 128 bits.
CREATE FUNCTION cornerwise.quoted(plain text) RETURNS text LANGUAGE plpgsql IMMUTABLE AS $body$
DECLARE
    json text := coalesce(to_json(plain)::text, 'null');
BEGIN
    IF json COLLATE "C" !~ '[^ -~]' THEN
        RETURN json;
    END IF;
    RETURN (
        SELECT string_agg(
            CASE WHEN point BETWEEN 32 AND 126 THEN letter
                WHEN point < 65536 THEN '\u' || lpad(to_hex(point), 4, '0')
                ELSE '\u' || to_hex(55296 + ((point - 65536) >> 10)) || '\u' || to_hex(56320 + ((point - 65536) & 1023))
            END, '' ORDER BY place)
        FROM (SELECT letter, ascii(letter) AS point, place
            FROM regexp_split_to_table(json, '') WITH ORDINALITY AS split (letter, place)) AS letters);
END $body$;

CREATE FUNCTION cornerwise.link(before text, sequence integer, time_utc text, kind text, version integer, payload text)
RETURNS text LANGUAGE sql IMMUTABLE AS $body$
    SELECT left(encode(sha256(convert_to(
        '[' || cornerwise.quoted(before) || ',' || sequence || ',' || cornerwise.quoted(time_utc) || ','
        || cornerwise.quoted(kind) || ',' || version || ',' || cornerwise.quoted(payload) || ']', 'UTF8')), 'hex'), 32)
$body$;

CREATE FUNCTION cornerwise.this_bench() RETURNS text LANGUAGE sql STABLE SECURITY DEFINER SET search_path = cornerwise, pg_temp
AS $body$ SELECT id FROM cornerwise.bench WHERE role = session_user $body$;

-- What is refused says why in its state: CW001 an entry before it is missing, CW002 it does not verify, CW003 the log
-- forks (another entry stands there already), CW004 the session is another bench's, CW005 it is no session.
CREATE FUNCTION cornerwise.accept_session_event() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = cornerwise, pg_temp AS $body$
DECLARE
    head cornerwise.session%ROWTYPE;
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
        PERFORM FROM cornerwise.session_event
            WHERE session = NEW.session AND sequence = NEW.sequence AND chain = NEW.chain;
        IF FOUND THEN
            RETURN NULL;
        END IF;
        RAISE EXCEPTION 'session %, event %: another one stands there', NEW.session, NEW.sequence USING ERRCODE = 'CW003';
    END IF;
    IF NEW.sequence > head.entries + 1 THEN
        RAISE EXCEPTION 'session %, event %: one before it is missing', NEW.session, NEW.sequence USING ERRCODE = 'CW001';
    END IF;
    IF cornerwise.link(head.chain, NEW.sequence, NEW.time_utc, NEW.kind, NEW.version, NEW.payload) <> NEW.chain THEN
        RAISE EXCEPTION 'session %, event %: it does not verify', NEW.session, NEW.sequence USING ERRCODE = 'CW002';
    END IF;
    IF (NEW.kind = 'opened') <> (NEW.sequence = 1) THEN
        RAISE EXCEPTION 'session %, event %: a session opens once', NEW.session, NEW.sequence USING ERRCODE = 'CW005';
    END IF;
    PERFORM cornerwise.list_session_event(NEW);
    UPDATE cornerwise.session SET entries = NEW.sequence, chain = NEW.chain, changed = pg_current_xact_id()
        WHERE id = NEW.session;
    RETURN NEW;
END $body$;

CREATE FUNCTION cornerwise.list_session_event(event cornerwise.session_event) RETURNS void LANGUAGE plpgsql
SET search_path = cornerwise, pg_temp AS $body$
DECLARE
    said jsonb;
BEGIN
    IF event.kind NOT IN ('opened', 'machine-named', 'closed', 'undone') OR event.version <> 1 THEN
        RETURN;
    END IF;
    said := event.payload::jsonb;
    CASE event.kind
        WHEN 'opened' THEN
            UPDATE cornerwise.session SET
                machine_name = coalesce(said->>'machine', ''),
                opened = event.time_utc::timestamptz,
                width_mm = (said#>>'{coupon,width_mm}')::double precision,
                height_mm = (said#>>'{coupon,height_mm}')::double precision,
                simulated = coalesce((said->>'simulated')::boolean, false)
            WHERE id = event.session;
        WHEN 'machine-named' THEN
            UPDATE cornerwise.session SET machine_name = coalesce(said->>'machine', '') WHERE id = event.session;
        WHEN 'closed' THEN
            UPDATE cornerwise.session SET
                closed = true,
                verdict = said->>'verdict',
                size_verdict = said->>'size_verdict',
                skew_deg = (said->>'skew_deg')::double precision,
                skew_u95_deg = (said->>'skew_u95_deg')::double precision,
                scale_x = (said->>'scale_x')::double precision,
                scale_x_u95 = (said->>'scale_x_u95')::double precision,
                scale_y = (said->>'scale_y')::double precision,
                scale_y_u95 = (said->>'scale_y_u95')::double precision
            WHERE id = event.session;
        ELSE
            UPDATE cornerwise.session SET
                closed = false, verdict = NULL, size_verdict = NULL, skew_deg = NULL, skew_u95_deg = NULL,
                scale_x = NULL, scale_x_u95 = NULL, scale_y = NULL, scale_y_u95 = NULL
            WHERE id = event.session AND EXISTS (SELECT FROM cornerwise.session_event
                WHERE session = event.session AND sequence = (said->>'number')::integer AND kind = 'closed');
    END CASE;
END $body$;

CREATE FUNCTION cornerwise.accept_machine_event() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = cornerwise, pg_temp AS $body$
DECLARE
    head cornerwise.machine_log%ROWTYPE;
BEGIN
    INSERT INTO cornerwise.machine_log (bench, log) VALUES (NEW.bench, NEW.log) ON CONFLICT DO NOTHING;
    SELECT * INTO head FROM cornerwise.machine_log WHERE bench = NEW.bench AND log = NEW.log FOR UPDATE;
    IF NEW.sequence <= head.entries THEN
        PERFORM FROM cornerwise.machine_event WHERE bench = NEW.bench AND log = NEW.log
            AND sequence = NEW.sequence AND chain = NEW.chain;
        IF FOUND THEN
            RETURN NULL;
        END IF;
        RAISE EXCEPTION 'log of %, entry %: another one stands there', NEW.log, NEW.sequence USING ERRCODE = 'CW003';
    END IF;
    IF NEW.sequence > head.entries + 1 THEN
        RAISE EXCEPTION 'log of %, entry %: one before it is missing', NEW.log, NEW.sequence USING ERRCODE = 'CW001';
    END IF;
    IF cornerwise.link(head.chain, NEW.sequence, NEW.time_utc, NEW.kind, NEW.version, NEW.payload) <> NEW.chain THEN
        RAISE EXCEPTION 'log of %, entry %: it does not verify', NEW.log, NEW.sequence USING ERRCODE = 'CW002';
    END IF;
    PERFORM NEW.time_utc::timestamptz;
    UPDATE cornerwise.machine_log SET entries = NEW.sequence, chain = NEW.chain, changed = pg_current_xact_id()
        WHERE bench = NEW.bench AND log = NEW.log;
    RETURN NEW;
END $body$;

CREATE TRIGGER accept BEFORE INSERT ON cornerwise.session_event
    FOR EACH ROW EXECUTE FUNCTION cornerwise.accept_session_event();
CREATE TRIGGER accept BEFORE INSERT ON cornerwise.machine_event
    FOR EACH ROW EXECUTE FUNCTION cornerwise.accept_machine_event();

CREATE VIEW cornerwise.machine_name_now AS
    SELECT DISTINCT ON (bench, name) bench, name, machine FROM cornerwise.machine_name ORDER BY bench, name, number DESC;
COMMENT ON VIEW cornerwise.machine_name_now IS 'Which machine of the shop a bench means by a name.';

CREATE VIEW cornerwise.sessions AS
    SELECT session.id AS session, session.bench AS bench_id, bench.name AS bench, names.machine AS machine_id,
        session.machine_name AS machine, session.opened, session.received,
        coalesce(session.opened > session.received + interval '1 hour', true) AS clock_doubtful,
        session.width_mm, session.height_mm, session.closed, session.verdict, session.size_verdict,
        session.skew_deg, session.skew_u95_deg, session.scale_x, session.scale_x_u95, session.scale_y, session.scale_y_u95,
        session.simulated, session.entries
    FROM cornerwise.session JOIN cornerwise.bench ON bench.id = session.bench
    LEFT JOIN cornerwise.machine_name_now AS names
        ON names.bench = session.bench AND names.name = session.machine_name;
COMMENT ON VIEW cornerwise.sessions IS 'One row a coupon, of whatever bench. machine_id is one machine, whatever each bench calls it (machine). Millimetres, degrees, times with zone; skew positive where NL and FR are acute; u95 is the expanded uncertainty, 95 %; scales are fractions, 0.001 is a millimetre too long in a metre. clock_doubtful: the bench''s clock was not set or ahead, so received is the better time.';

CREATE VIEW cornerwise.machines AS
    SELECT machine.id AS machine_id, machine.name AS machine, count(DISTINCT session.bench) AS benches,
        count(session.id) AS sessions, max(session.opened) AS last_opened
    FROM cornerwise.machine
    LEFT JOIN cornerwise.machine_name_now AS names ON names.machine = machine.id
    LEFT JOIN cornerwise.session ON session.bench = names.bench AND session.machine_name = names.name
    GROUP BY machine.id, machine.name;
COMMENT ON VIEW cornerwise.machines IS 'One row a machine of the shop: at how many benches it was measured, how many coupons, and when last.';

CREATE VIEW cornerwise.machine_marks AS
    SELECT names.machine AS machine_id, bench.name AS bench, event.sequence, event.time_utc::timestamptz AS at, event.kind,
        event.payload::jsonb AS said
    FROM cornerwise.machine_event AS event JOIN cornerwise.bench ON bench.id = event.bench
    LEFT JOIN cornerwise.machine_name_now AS names ON names.bench = event.bench AND names.name = event.log
    WHERE event.kind IN ('correction-applied', 'event');
COMMENT ON VIEW cornerwise.machine_marks IS 'What was done to a machine, or upset it (crash, move, belt or tool change): draw these as lines over its skews.';

CREATE VIEW cornerwise.readings AS
    SELECT event.session, event.sequence, event.time_utc::timestamptz AS at, reading->>'feature' AS feature,
        (reading->>'value')::double precision AS value, reading->>'method' AS method, reading->>'instrument' AS instrument
    FROM cornerwise.session_event AS event CROSS JOIN LATERAL (SELECT event.payload::jsonb->'reading') AS read (reading)
    WHERE event.kind = 'reading-accepted';
COMMENT ON VIEW cornerwise.readings IS 'Every reading accepted, millimetres or degrees, voided ones among them: which are, the events reading-voided and undone of session_event say.';

ALTER TABLE cornerwise.bench ENABLE ROW LEVEL SECURITY;
ALTER TABLE cornerwise.machine ENABLE ROW LEVEL SECURITY;
ALTER TABLE cornerwise.machine_name ENABLE ROW LEVEL SECURITY;
ALTER TABLE cornerwise.session_event ENABLE ROW LEVEL SECURITY;
ALTER TABLE cornerwise.machine_event ENABLE ROW LEVEL SECURITY;

CREATE POLICY everybody_reads ON cornerwise.bench FOR SELECT USING (true);
CREATE POLICY everybody_reads ON cornerwise.machine FOR SELECT USING (true);
CREATE POLICY everybody_reads ON cornerwise.machine_name FOR SELECT USING (true);
CREATE POLICY everybody_reads ON cornerwise.session_event FOR SELECT USING (true);
CREATE POLICY everybody_reads ON cornerwise.machine_event FOR SELECT USING (true);
CREATE POLICY as_itself ON cornerwise.bench FOR INSERT WITH CHECK (role = session_user);
CREATE POLICY as_itself ON cornerwise.machine FOR INSERT WITH CHECK (bench = cornerwise.this_bench());
CREATE POLICY as_itself ON cornerwise.machine_name FOR INSERT WITH CHECK (bench = cornerwise.this_bench());
CREATE POLICY as_itself ON cornerwise.session_event FOR INSERT WITH CHECK (bench = cornerwise.this_bench());
CREATE POLICY as_itself ON cornerwise.machine_event FOR INSERT WITH CHECK (bench = cornerwise.this_bench());

REVOKE ALL ON ALL FUNCTIONS IN SCHEMA cornerwise FROM PUBLIC;
GRANT USAGE ON SCHEMA cornerwise TO cornerwise_bench, cornerwise_reader;
GRANT EXECUTE ON FUNCTION cornerwise.this_bench() TO cornerwise_bench;
GRANT SELECT ON ALL TABLES IN SCHEMA cornerwise TO cornerwise_bench;
GRANT SELECT ON cornerwise.sessions, cornerwise.machines, cornerwise.machine_marks, cornerwise.readings TO cornerwise_reader;
-- Column by column: when something was received or said is the server's to say.
GRANT INSERT (id, role, name) ON cornerwise.bench TO cornerwise_bench;
GRANT INSERT (id, name, bench) ON cornerwise.machine TO cornerwise_bench;
GRANT INSERT (bench, name, number, machine) ON cornerwise.machine_name TO cornerwise_bench;
GRANT INSERT ON cornerwise.session_event TO cornerwise_bench;
GRANT INSERT ON cornerwise.machine_event TO cornerwise_bench;
