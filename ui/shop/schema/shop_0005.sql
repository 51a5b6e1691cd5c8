-- So many machines and names a bench may bring as a shop has room for: each is fetched by every other bench in every
-- round, and each of a name that others use is a question to a person there.

CREATE INDEX machine_by_bench ON cornerwise.machine (bench, lower(name));

CREATE FUNCTION cornerwise.not_too_many() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = cornerwise, pg_temp AS $body$
DECLARE
    too_many boolean;
BEGIN
    PERFORM FROM cornerwise.bench WHERE id = NEW.bench FOR UPDATE; -- one after the other, or each would see too few
    IF TG_TABLE_NAME = 'machine' THEN
        SELECT count(*) >= 1000 OR count(*) FILTER (WHERE lower(name) = lower(NEW.name)) >= 20 INTO too_many
            FROM cornerwise.machine WHERE bench = NEW.bench;
    ELSE
        SELECT count(*) >= 5000 INTO too_many FROM cornerwise.machine_name WHERE bench = NEW.bench;
    END IF;
    IF too_many THEN
        RAISE EXCEPTION 'bench % has brought too many machines', NEW.bench USING ERRCODE = 'CW006';
    END IF;
    RETURN NEW;
END $body$;
COMMENT ON FUNCTION cornerwise.not_too_many IS 'Raises CW006 for a bench with 1000 machines, 20 of one name, or 5000 names for machines.';
REVOKE ALL ON FUNCTION cornerwise.not_too_many FROM PUBLIC;

CREATE TRIGGER not_too_many BEFORE INSERT ON cornerwise.machine
    FOR EACH ROW EXECUTE FUNCTION cornerwise.not_too_many();
CREATE TRIGGER not_too_many BEFORE INSERT ON cornerwise.machine_name
    FOR EACH ROW EXECUTE FUNCTION cornerwise.not_too_many();
