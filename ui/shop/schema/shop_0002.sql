-- A bench that became another one, after an older card was put in, sends its machines' logs anew: equal links stand for
-- equal logs up to there, so each mark is shown once.

CREATE OR REPLACE VIEW cornerwise.machine_marks AS
    SELECT DISTINCT ON (names.machine, event.chain)
        names.machine AS machine_id, bench.name AS bench, event.sequence, event.time_utc::timestamptz AS at, event.kind,
        event.payload::jsonb AS said
    FROM cornerwise.machine_event AS event JOIN cornerwise.bench ON bench.id = event.bench
    LEFT JOIN cornerwise.machine_name_now AS names ON names.bench = event.bench AND names.name = event.log
    WHERE event.kind IN ('correction-applied', 'event')
    ORDER BY names.machine, event.chain, bench.joined;
