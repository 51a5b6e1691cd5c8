-- What is held against an entry before it is in, once for sessions and machines' logs; shop_0004, which one set-up applies
-- with this, has the two functions that ask it. And a machine's list and chart out of an index alone, which in a large shop
-- would read a page of the table for every coupon.

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

-- Only what lists and charts show, and what they are narrowed by; the rest is looked up by the session's id.
CREATE INDEX session_listed ON cornerwise.session (bench, machine_name, opened DESC)
    INCLUDE (id, received, closed, simulated, verdict, skew_deg, skew_u95_deg);
DROP INDEX cornerwise.session_by_machine;
-- An index alone answers where the table's pages are known to be settled: look after it as rows come, not once a fifth is new.
ALTER TABLE cornerwise.session SET (autovacuum_vacuum_insert_scale_factor = 0.02, autovacuum_vacuum_scale_factor = 0.05);
