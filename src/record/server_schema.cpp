// What lies on a shop's server, and who may do what. Durable: a change is a new version with its own statements.
//
// A link is believed only when its SHA-256 is that of its bytes and it follows the link before it: a trigger looks, whoever
// writes. A bench (role switchwright_bench) adds and reads its own; nobody but the owner of the tables changes or deletes.
// An inspector (switchwright_inspector) reads all. Links and readings lie in one partition for each month in which their
// record began.
#include "switchwright/record/push.hpp"

namespace switchwright {

std::string server_sql() {
  return R"sql(-- switchwright: tables and roles of a shop's server. Run once, as the owner of the database.
BEGIN;
DO $$ BEGIN
  IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'switchwright_bench') THEN CREATE ROLE switchwright_bench NOLOGIN; END IF;
  IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'switchwright_inspector') THEN CREATE ROLE switchwright_inspector NOLOGIN; END IF;
END $$;
CREATE SCHEMA switchwright;
CREATE TABLE switchwright.version (version integer NOT NULL);
INSERT INTO switchwright.version VALUES (2);
CREATE TABLE switchwright.record (
  id text PRIMARY KEY, started timestamptz NOT NULL, bench name NOT NULL DEFAULT session_user, header text NOT NULL,
  kind text, part text, serial text, profile text, operator text, UNIQUE (id, started));
CREATE INDEX record_by_start ON switchwright.record (started);
CREATE INDEX record_by_serial ON switchwright.record (serial);
CREATE INDEX record_by_part ON switchwright.record (part, started);
CREATE TABLE switchwright.link (
  record_id text NOT NULL, started timestamptz NOT NULL, seq bigint NOT NULL, bench name NOT NULL DEFAULT session_user,
  previous text NOT NULL, sha256 text NOT NULL, canonical text NOT NULL, outcome text, scope text, explained_by text,
  PRIMARY KEY (record_id, started, seq),
  FOREIGN KEY (record_id, started) REFERENCES switchwright.record (id, started)) PARTITION BY RANGE (started);
CREATE INDEX link_that_closes ON switchwright.link (record_id, started, seq) WHERE outcome IS NOT NULL;
CREATE TABLE switchwright.reading (
  record_id text NOT NULL, started timestamptz NOT NULL, seq bigint NOT NULL, n integer NOT NULL,
  bench name NOT NULL DEFAULT session_user, step integer, channel integer, at_s double precision, quantity text, state text,
  value double precision, resolution double precision,
  PRIMARY KEY (record_id, started, seq, n)) PARTITION BY RANGE (started);

-- What who is logged in may see: a bench its own, an inspector all.
CREATE VIEW switchwright.seen_record WITH (security_barrier) AS SELECT * FROM switchwright.record
  WHERE bench = session_user OR (SELECT pg_has_role(session_user, 'switchwright_inspector', 'USAGE'));
CREATE VIEW switchwright.seen_link WITH (security_barrier) AS SELECT * FROM switchwright.link
  WHERE bench = session_user OR (SELECT pg_has_role(session_user, 'switchwright_inspector', 'USAGE'));
CREATE VIEW switchwright.seen_reading WITH (security_barrier) AS SELECT * FROM switchwright.reading
  WHERE bench = session_user OR (SELECT pg_has_role(session_user, 'switchwright_inspector', 'USAGE'));

-- What a link says that closes a record; no outcome where it does not.
CREATE TYPE switchwright.closing AS (outcome text, scope text, explained_by text);
CREATE FUNCTION switchwright.told_by(said json) RETURNS switchwright.closing LANGUAGE plpgsql IMMUTABLE
  SET search_path = pg_catalog, pg_temp AS $$
DECLARE
  told switchwright.closing;
  result json;
BEGIN
  told.outcome := said->'verdict'->>'outcome';
  told.scope := said->'verdict'->>'scope';
  told.explained_by := said->'verdict'->'explanations'->0->>'fault';
  FOR result IN SELECT r.value FROM json_array_elements(coalesce(said->'results', '[]')) r(value) LOOP
    IF result->>'kind' = 'learned' THEN told.outcome := coalesce(told.outcome, 'learned'); END IF;
    IF result->>'kind' = 'verdict' AND told.explained_by IS NULL THEN
      told.explained_by := (result->>'json')::json->'faults'->0->>'fault';
    END IF;
  END LOOP;
  told.outcome := coalesce(told.outcome, said->'lot_decisions'->-1->>'decision');
  RETURN told;
END $$;

CREATE FUNCTION switchwright.make_month(at timestamptz) RETURNS void LANGUAGE plpgsql SECURITY DEFINER
  SET search_path = pg_catalog, pg_temp AS $$
DECLARE
  first timestamp := date_trunc('month', at AT TIME ZONE 'UTC');
  month text := to_char(first, 'YYYY_MM');
BEGIN
  IF to_regclass('switchwright.link_' || month) IS NOT NULL THEN RETURN; END IF;
  PERFORM pg_advisory_xact_lock(hashtext('switchwright.make_month'));
  -- Another bench may have made it meanwhile. A table answers that as it stands now; to_regclass would repeat its first answer.
  IF EXISTS (SELECT FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
             WHERE n.nspname = 'switchwright' AND c.relname = 'link_' || month) THEN RETURN; END IF;
  EXECUTE format('CREATE TABLE switchwright.%I PARTITION OF switchwright.link FOR VALUES FROM (%L) TO (%L)', 'link_' || month,
                 first AT TIME ZONE 'UTC', (first + interval '1 month') AT TIME ZONE 'UTC');
  EXECUTE format('CREATE TABLE switchwright.%I PARTITION OF switchwright.reading FOR VALUES FROM (%L) TO (%L)',
                 'reading_' || month, first AT TIME ZONE 'UTC', (first + interval '1 month') AT TIME ZONE 'UTC');
END $$;

-- Looks at all links of a statement at once: each is its own bench's, has the hash that it names, says where it belongs, and
-- follows the one before it. Then it is noted what those say that close a record.
CREATE FUNCTION switchwright.look_at_links() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path = pg_catalog, pg_temp AS $$
DECLARE
  wrong record;
BEGIN
  SELECT a.record_id INTO wrong FROM (SELECT DISTINCT record_id, started, bench FROM added) a WHERE a.bench <> session_user OR NOT EXISTS
    (SELECT FROM switchwright.record r WHERE r.id = a.record_id AND r.started = a.started AND r.bench = session_user) LIMIT 1;
  IF FOUND THEN RAISE EXCEPTION 'record % belongs to another bench', wrong.record_id; END IF;
  SELECT o.record_id, o.seq INTO wrong FROM
    (SELECT record_id, started, seq, previous, lag(seq) OVER w AS seq_before, lag(sha256) OVER w AS before FROM added
     WINDOW w AS (PARTITION BY record_id, started ORDER BY seq)) o
    WHERE o.previous IS DISTINCT FROM CASE
      WHEN o.seq_before = o.seq - 1 THEN o.before
      WHEN o.seq = 1 THEN ''
      ELSE (SELECT l.sha256 FROM switchwright.link l WHERE l.record_id = o.record_id AND l.started = o.started AND l.seq = o.seq - 1) END
      OR o.seq < 1 ORDER BY o.seq LIMIT 1;
  IF NOT FOUND THEN
    SELECT a.record_id, a.seq INTO wrong FROM added a
      CROSS JOIN LATERAL json_to_record(a.canonical::json) AS said(previous text, record text, batch bigint)
      WHERE said.previous IS DISTINCT FROM a.previous OR said.record IS DISTINCT FROM a.record_id
        OR said.batch IS DISTINCT FROM a.seq ORDER BY a.seq LIMIT 1;
  END IF;
  IF FOUND THEN RAISE EXCEPTION 'link % does not follow what is kept of record %', wrong.seq, wrong.record_id; END IF;
  SELECT a.record_id, a.seq INTO wrong FROM added a
    WHERE a.sha256 <> encode(sha256(convert_to(a.canonical, 'UTF8')), 'hex') ORDER BY a.seq LIMIT 1;
  IF FOUND THEN RAISE EXCEPTION 'link % of record % does not have the SHA-256 that it names', wrong.seq, wrong.record_id; END IF;
  UPDATE switchwright.link l SET outcome = told.outcome, scope = told.scope, explained_by = told.explained_by
    FROM (SELECT a.record_id, a.started, a.seq, (switchwright.told_by(a.canonical::json)).* FROM added a
          WHERE strpos(a.canonical, '"verdict":{') > 0 OR strpos(a.canonical, '"lot_decisions":[') > 0
             OR strpos(a.canonical, '"kind":"learned"') > 0) told
    WHERE l.record_id = told.record_id AND l.started = told.started AND l.seq = told.seq AND told.outcome IS NOT NULL;
  RETURN NULL;
END $$;
CREATE TRIGGER look AFTER INSERT ON switchwright.link REFERENCING NEW TABLE AS added
  FOR EACH STATEMENT EXECUTE FUNCTION switchwright.look_at_links();

CREATE FUNCTION switchwright.look_at_readings() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path = pg_catalog, pg_temp AS $$
BEGIN
  IF EXISTS (SELECT FROM (SELECT DISTINCT record_id, started, seq FROM added) a WHERE NOT EXISTS (SELECT FROM switchwright.link l
    WHERE l.record_id = a.record_id AND l.started = a.started AND l.seq = a.seq AND l.bench = session_user))
    THEN RAISE EXCEPTION 'readings belong to a link that this bench has not added'; END IF;
  RETURN NULL;
END $$;
CREATE TRIGGER look AFTER INSERT ON switchwright.reading REFERENCING NEW TABLE AS added
  FOR EACH STATEMENT EXECUTE FUNCTION switchwright.look_at_readings();

-- What is wrong with a record as this server holds it; NULL: whole.
CREATE FUNCTION switchwright.check_record(id text) RETURNS text LANGUAGE sql STABLE AS $$
  WITH links AS (
    SELECT l.*, lag(l.sha256, 1, '') OVER (ORDER BY l.seq) AS before, row_number() OVER (ORDER BY l.seq) AS place
    FROM switchwright.seen_link l JOIN switchwright.seen_record r ON r.id = l.record_id AND r.started = l.started WHERE r.id = check_record.id)
  SELECT coalesce(
    (SELECT 'record ' || check_record.id || ', batch ' || place || ': the kept bytes or their place in the chain were changed' FROM links
     WHERE seq <> place OR previous <> before OR sha256 <> encode(sha256(convert_to(canonical, 'UTF8')), 'hex')
       OR (canonical::json)->>'previous' <> previous ORDER BY place LIMIT 1),
    (SELECT 'record ' || check_record.id || ': its header is not the one that its chain begins with' FROM links l
       JOIN switchwright.seen_record r ON r.id = l.record_id
     WHERE l.seq = 1 AND ((l.canonical::jsonb)->'header' <> r.header::jsonb
       OR r.serial IS DISTINCT FROM (l.canonical::jsonb)->'header'->>'serial'
       OR r.part IS DISTINCT FROM (l.canonical::jsonb)->'header'->>'part')),
    (SELECT 'record ' || check_record.id || ', batch ' || l.seq || ': its readings differ from its chain' FROM links l WHERE
       ARRAY(SELECT (x.value->>'value')::double precision FROM json_array_elements((l.canonical::json)->'readings') WITH ORDINALITY x(value, o) ORDER BY o)
       || ARRAY(SELECT (x.value->>'value')::double precision FROM json_array_elements((l.canonical::json)->'samples') WITH ORDINALITY x(value, o) ORDER BY o)
       IS DISTINCT FROM ARRAY(SELECT d.value FROM switchwright.seen_reading d WHERE d.record_id = l.record_id AND d.started = l.started AND d.seq = l.seq ORDER BY d.n)
     ORDER BY l.seq LIMIT 1),
    CASE WHEN NOT EXISTS (SELECT FROM links) THEN 'record ' || check_record.id || ' is not here' END)
$$;

CREATE VIEW switchwright.listed AS
  SELECT r.id, r.started, r.header, c.outcome, c.scope, c.explained_by FROM switchwright.seen_record r
  LEFT JOIN LATERAL (SELECT l.outcome, l.scope, l.explained_by FROM switchwright.seen_link l
    WHERE l.record_id = r.id AND l.started = r.started AND l.outcome IS NOT NULL ORDER BY l.seq DESC LIMIT 1) c ON true;

GRANT USAGE ON SCHEMA switchwright TO switchwright_bench, switchwright_inspector;
GRANT SELECT ON switchwright.version, switchwright.seen_record, switchwright.seen_link, switchwright.seen_reading,
  switchwright.listed TO switchwright_bench, switchwright_inspector;
GRANT INSERT (id, started, header, kind, part, serial, profile, operator) ON switchwright.record TO switchwright_bench;
GRANT INSERT (record_id, started, seq, previous, sha256, canonical) ON switchwright.link TO switchwright_bench;
GRANT INSERT (record_id, started, seq, n, step, channel, at_s, quantity, state, value, resolution) ON switchwright.reading
  TO switchwright_bench;
REVOKE EXECUTE ON FUNCTION switchwright.make_month(timestamptz) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION switchwright.make_month(timestamptz) TO switchwright_bench;
COMMIT;
)sql";
}

}  // namespace switchwright
