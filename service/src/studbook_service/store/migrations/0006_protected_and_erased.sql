-- The book under protection and erasure: who records on a protected line, and entries that lost their content.

-- An erased entry keeps all but its note and body.
ALTER TABLE studbook.entry ALTER COLUMN body DROP NOT NULL;

-- What was erased, and by which entry of kind `erasure`; the entry itself may yet be to come, from a node that did not
-- hear of it. Only carry_out() writes here.
CREATE TABLE studbook.erased (
    team_id uuid NOT NULL,
    id      bytea NOT NULL,
    by      bytea NOT NULL,
    PRIMARY KEY (team_id, id),
    FOREIGN KEY (team_id, by) REFERENCES studbook.entry
);
CALL studbook.fence('studbook.erased');
CREATE TRIGGER advance_epoch AFTER INSERT ON studbook.erased
    FOR EACH STATEMENT EXECUTE FUNCTION studbook.advance_epoch();

-- Nobody changes an entry, its owner included: what was erased may lose its note and body, and that is all.
CREATE FUNCTION studbook.refuse_change_but_erasing() RETURNS trigger
LANGUAGE plpgsql AS $$
DECLARE
    v_bare studbook.entry := OLD;
BEGIN
    v_bare.note := NULL;
    v_bare.body := NULL;
    IF NEW IS DISTINCT FROM v_bare
       OR NOT EXISTS (SELECT FROM studbook.erased x WHERE x.team_id = OLD.team_id AND x.id = OLD.id) THEN
        RAISE EXCEPTION 'what is recorded never changes: UPDATE on entry is refused' USING ERRCODE = 'SB003';
    END IF;
    RETURN NEW;
END
$$;
DROP TRIGGER refuse_change ON studbook.entry;
CREATE TRIGGER refuse_change BEFORE DELETE OR TRUNCATE ON studbook.entry
    FOR EACH STATEMENT EXECUTE FUNCTION studbook.refuse_change();
CREATE TRIGGER refuse_change_but_erasing BEFORE UPDATE ON studbook.entry
    FOR EACH ROW EXECUTE FUNCTION studbook.refuse_change_but_erasing();

-- Take note and body from what an erasure in this book names; erasures themselves stay whole. With the owner's rights:
-- the serving role changes no entry but so.
CREATE FUNCTION studbook.carry_out(p_team uuid, p_erasure bytea) RETURNS void
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
DECLARE
    v_named jsonb := (SELECT convert_from(e.body, 'UTF8')::jsonb -> 'entries' FROM studbook.entry e
                       WHERE e.team_id = p_team AND e.id = p_erasure AND e.kind = 'erasure');
BEGIN
    IF jsonb_typeof(v_named) IS DISTINCT FROM 'array' THEN
        RETURN;
    END IF;
    INSERT INTO studbook.erased (team_id, id, by)
    SELECT p_team, decode(n.id, 'hex'), p_erasure FROM jsonb_array_elements_text(v_named) AS n (id)
     WHERE n.id ~ '^[0-9a-f]{64}$'
    ON CONFLICT DO NOTHING;
    UPDATE studbook.entry e SET note = NULL, body = NULL
      FROM studbook.erased x
     WHERE x.team_id = p_team AND x.by = p_erasure
       AND e.team_id = p_team AND e.id = x.id AND e.kind <> 'erasure' AND e.body IS NOT NULL;
END
$$;
REVOKE ALL ON FUNCTION studbook.carry_out(uuid, bytea) FROM PUBLIC;

-- An erased body is read as empty; no recorded body is.
CREATE OR REPLACE VIEW studbook.reading WITH (security_invoker = true) AS
SELECT e.team_id, e.id, e.seq, e.kind, e.line, e.parents, e.generation, e.content, e.note, e.author,
       m.name AS author_name, e.at_ms, e.received_at, e.carried_from, e.via, coalesce(e.body, '') AS body,
       e.body IS NULL AS erased
  FROM studbook.entry e
  LEFT JOIN studbook.member m ON m.team_id = e.team_id AND m.id = e.author;

CREATE OR REPLACE FUNCTION studbook.document(p_team uuid, p_id bytea, OUT content bytea, OUT body bytea)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    SELECT e.content, coalesce(e.body, '') INTO document.content, document.body
      FROM studbook.entry e WHERE e.team_id = p_team AND e.id = p_id;
END
$$;

CREATE OR REPLACE FUNCTION studbook.since(p_team uuid, p_seq bigint, p_limit integer)
RETURNS TABLE (seq bigint, chain bytea, id bytea, kind text, line text, parents bytea[], content bytea, note text,
               author text, at_ms bigint, carried_from bytea, via text, body bytea)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT e.seq, e.chain, e.id, e.kind, e.line, e.parents, e.content, e.note,
           e.author, e.at_ms, e.carried_from, e.via, coalesce(e.body, '')
      FROM studbook.entry e WHERE e.team_id = p_team AND e.seq > p_seq ORDER BY e.seq LIMIT p_limit;
END
$$;

-- Push one entry onto the tips the caller saw (p_expected, sorted; empty for a new line).
-- outcome: recorded | replayed (id names what was recorded before) | key_reused | protected | stale (tips says what is
-- there).
DROP FUNCTION studbook.push(uuid, studbook.new_entry, bytea[], text, bytea);
CREATE FUNCTION studbook.push(
    p_team uuid, p_new studbook.new_entry, p_expected bytea[], p_key text, p_fingerprint bytea, p_may_protected boolean,
    OUT outcome text, OUT id bytea, OUT seq bigint, OUT generation integer, OUT tips bytea[])
LANGUAGE plpgsql AS $$
DECLARE
    v_fingerprint bytea;
    v_protected   boolean;
BEGIN
    PERFORM studbook.lock_book(p_team);

    IF p_key IS NOT NULL THEN
        SELECT i.id, i.fingerprint INTO push.id, v_fingerprint
          FROM studbook.idempotency i WHERE i.team_id = p_team AND i.key = p_key;
        IF v_fingerprint <> p_fingerprint THEN
            outcome := 'key_reused';
        END IF;
    END IF;

    IF push.id IS NULL THEN
        v_protected := NOT p_may_protected AND EXISTS (
            SELECT FROM studbook.protection p WHERE p.team_id = p_team AND p.line = p_new.line);
        tips := ARRAY(SELECT t.id FROM studbook.tip t
                       WHERE t.team_id = p_team AND t.line = p_new.line ORDER BY t.id);
        IF tips = p_expected AND NOT v_protected THEN
            SELECT r.seq, r.generation INTO push.seq, push.generation FROM studbook.enter(p_team, p_new) r;
            IF p_key IS NOT NULL THEN
                INSERT INTO studbook.idempotency (team_id, key, fingerprint, id)
                VALUES (p_team, p_key, p_fingerprint, p_new.id);
            END IF;
            outcome := 'recorded';
            id := p_new.id;
            RETURN;
        END IF;
        -- A retry without a key whose first reply was lost: this entry, or this very change by this author, is there.
        SELECT e.id INTO push.id FROM studbook.entry e
         WHERE e.team_id = p_team AND (e.id = p_new.id OR (
               e.id = ANY (tips) AND e.parents = p_new.parents
               AND e.content = p_new.content AND e.author = p_new.author))
         LIMIT 1;
    END IF;

    -- From here on nothing was written, so the next in the queue need not wait for the disk.
    PERFORM set_config('synchronous_commit', 'off', true);
    IF outcome IS NULL THEN
        outcome := CASE WHEN push.id IS NOT NULL THEN 'replayed' WHEN v_protected THEN 'protected' ELSE 'stale' END;
    END IF;
    SELECT e.seq, e.generation INTO push.seq, push.generation
      FROM studbook.entry e WHERE e.team_id = p_team AND e.id = push.id;
END
$$;

-- Add ready entries, parents before children, whatever the tips: what another node's book or a loader brings. What was
-- erased here is added without its content, whoever still has it; erasures are carried out if asked for, known ones too.
DROP FUNCTION studbook.append(uuid, studbook.new_entry[]);
CREATE FUNCTION studbook.append(p_team uuid, p_new studbook.new_entry[], p_carry_out boolean)
RETURNS TABLE (id bytea, seq bigint, generation integer, added boolean)
LANGUAGE plpgsql AS $$
DECLARE
    v_new studbook.new_entry;
BEGIN
    PERFORM studbook.lock_book(p_team);
    FOREACH v_new IN ARRAY p_new LOOP
        id := v_new.id;
        SELECT e.seq, e.generation INTO append.seq, append.generation
          FROM studbook.entry e WHERE e.team_id = p_team AND e.id = v_new.id;
        added := NOT FOUND;
        IF added THEN
            IF v_new.kind <> 'erasure'
               AND EXISTS (SELECT FROM studbook.erased x WHERE x.team_id = p_team AND x.id = v_new.id) THEN
                v_new.note := NULL;
                v_new.body := NULL;
            END IF;
            SELECT r.seq, r.generation INTO append.seq, append.generation FROM studbook.enter(p_team, v_new) r;
        END IF;
        IF p_carry_out AND v_new.kind = 'erasure' THEN
            PERFORM studbook.carry_out(p_team, v_new.id);
        END IF;
        RETURN NEXT;
    END LOOP;
END
$$;

-- Add entries a peer brought, and how we stand with it now: both or neither. No peer of that name, or not this version:
-- another exchange is under way, or the peer was taken off. Erasures are carried out on the word of the team's home.
DROP FUNCTION studbook.receive(uuid, studbook.new_entry[], text, bigint, bytea);
CREATE FUNCTION studbook.receive(
    p_team uuid, p_new studbook.new_entry[], p_peer text, p_version bigint, p_standing bytea, p_carry_out boolean)
RETURNS TABLE (id bytea, seq bigint, generation integer, added boolean)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_book(p_team);
    UPDATE studbook.peer p SET version = p_version, standing = p_standing
     WHERE p.team_id = p_team AND p.name = p_peer AND p.version = p_version - 1;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'what is kept about peer % changed meanwhile', p_peer USING ERRCODE = 'SB004';
    END IF;
    RETURN QUERY
    SELECT a.id, a.seq, a.generation, a.added
      FROM studbook.append(p_team, p_new, p_carry_out AND studbook.home(p_team) IS NOT DISTINCT FROM p_peer) a;
END
$$;

-- Record an erasure and carry it out. The owner's business, at home.
CREATE FUNCTION studbook.erase_entries(p_team uuid, p_new studbook.new_entry, p_said bytea) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_access(p_team);
    PERFORM studbook.append(p_team, ARRAY[p_new], true);
    INSERT INTO studbook.audit (team_id, said) VALUES (p_team, p_said);
END
$$;
REVOKE ALL ON FUNCTION studbook.erase_entries(uuid, studbook.new_entry, bytea) FROM PUBLIC;
