-- Writing a book. Every write locks the team's row of `book` first, so a team has one writer at a time. A retry is
-- found before anything is written, so there is nothing to undo, and what became of a push comes back as data, not as
-- an error. A transaction that wrote nothing does not wait for the disk. Only a push that was recorded leaves its
-- idempotency key, which holds no status.
--
-- The codes of our own errors, in all parts; `store/errors.py` gives each its class:
--   SB001 no such team                          SB005 decided at the team's home, named in DETAIL
--   SB002 a parent is not on the line (DETAIL)  SB006 this node is the team's home
--   SB003 what is recorded never changes        SB007 no such member
--   SB004 the peer's state changed meanwhile    SB008 the team's last chief stays

-- Take the team's place in the queue. Everything after this in the transaction sees what earlier writers left.
CREATE OR REPLACE FUNCTION studbook.lock_book(p_team uuid) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    PERFORM FROM studbook.book b WHERE b.team_id = p_team FOR NO KEY UPDATE;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'no such team' USING ERRCODE = 'SB001';
    END IF;
END
$$;

-- Write one entry. The book is locked already.
CREATE OR REPLACE FUNCTION studbook.insert_entry(
    p_team uuid, p_new studbook.new_entry, OUT seq bigint, OUT generation integer)
LANGUAGE plpgsql AS $$
DECLARE
    v_known bytea[];
    v_chain bytea;
BEGIN
    SELECT coalesce(max(e.generation) + 1, 0), array_agg(e.id)
      INTO insert_entry.generation, v_known
      FROM studbook.entry e
     WHERE e.team_id = p_team AND e.id = ANY (p_new.parents) AND e.line = p_new.line AND e.kind = p_new.kind;
    IF NOT p_new.parents <@ coalesce(v_known, '{}') THEN
        RAISE EXCEPTION 'a parent is not on this line' USING ERRCODE = 'SB002',
            DETAIL = (SELECT encode(p, 'hex') FROM unnest(p_new.parents) p
                       WHERE p <> ALL (coalesce(v_known, '{}')) ORDER BY p LIMIT 1);
    END IF;

    UPDATE studbook.book b SET seq = b.seq + 1, chain = sha256(b.chain || p_new.id)
     WHERE b.team_id = p_team
    RETURNING b.seq, b.chain INTO insert_entry.seq, v_chain;

    INSERT INTO studbook.entry (team_id, seq, id, kind, line, parents, generation, content, note, body,
                                author, at_ms, via, carried_from, chain)
    VALUES (p_team, insert_entry.seq, p_new.id, p_new.kind, p_new.line, p_new.parents, insert_entry.generation,
            p_new.content, p_new.note, p_new.body, p_new.author, p_new.at_ms, p_new.via, p_new.carried_from, v_chain);

    DELETE FROM studbook.tip t WHERE t.team_id = p_team AND t.line = p_new.line AND t.id = ANY (p_new.parents);
    INSERT INTO studbook.tip (team_id, line, id, kind) VALUES (p_team, p_new.line, p_new.id, p_new.kind);
END
$$;

-- Push one entry onto the tips that the caller saw (p_expected, sorted; empty for a new line).
-- p_seen, p_lines: the last sequence number before the caller read lines that begin so, to decide by them; else NULL.
-- outcome: recorded | replayed (id names what was recorded before) | key_reused | protected | stale (tips are those of
-- now) | moved (another entry was written to those lines since).
CREATE OR REPLACE FUNCTION studbook.push(
    p_team uuid, p_new studbook.new_entry, p_expected bytea[], p_key text, p_fingerprint bytea, p_may_protected boolean,
    p_seen bigint, p_lines text[],
    OUT outcome text, OUT id bytea, OUT seq bigint, OUT generation integer, OUT tips bytea[])
LANGUAGE plpgsql AS $$
DECLARE
    v_fingerprint bytea;
    v_protected   boolean;
    v_moved       boolean;
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
        v_moved := p_seen IS NOT NULL AND EXISTS (
            SELECT FROM studbook.entry e WHERE e.team_id = p_team AND e.seq > p_seen AND e.line ^@ ANY (p_lines));
        IF tips = p_expected AND NOT v_protected AND NOT v_moved THEN
            SELECT r.seq, r.generation INTO push.seq, push.generation FROM studbook.insert_entry(p_team, p_new) r;
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
        outcome := CASE WHEN push.id IS NOT NULL THEN 'replayed'
                        WHEN v_protected THEN 'protected'
                        WHEN tips = p_expected THEN 'moved'
                        ELSE 'stale' END;
    END IF;
    SELECT e.seq, e.generation INTO push.seq, push.generation
      FROM studbook.entry e WHERE e.team_id = p_team AND e.id = push.id;
END
$$;

-- Add ready entries, parents before children, whatever the tips: what another node's book or a loader brings. What was
-- erased here is added without its content, whoever still has it. Erasures, known ones too, are applied on request.
CREATE OR REPLACE FUNCTION studbook.append(p_team uuid, p_new studbook.new_entry[], p_apply_erasures boolean)
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
            SELECT r.seq, r.generation INTO append.seq, append.generation FROM studbook.insert_entry(p_team, v_new) r;
        END IF;
        IF p_apply_erasures AND v_new.kind = 'erasure' THEN
            PERFORM studbook.apply_erasure(p_team, v_new.id);
        END IF;
        RETURN NEXT;
    END LOOP;
END
$$;

-- Erasing.

-- Take note and body from the entries that an erasure in this book names; erasures themselves stay whole. The effects
-- kept of the same lines go too, since figures of later revisions tell of earlier ones. With the owner's rights: the
-- serving role changes no entry in any other way.
CREATE OR REPLACE FUNCTION studbook.apply_erasure(p_team uuid, p_erasure bytea) RETURNS void
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
DECLARE
    v_ids jsonb := (SELECT convert_from(e.body, 'UTF8')::jsonb -> 'entries' FROM studbook.entry e
                     WHERE e.team_id = p_team AND e.id = p_erasure AND e.kind = 'erasure');
BEGIN
    IF jsonb_typeof(v_ids) IS DISTINCT FROM 'array' THEN
        RETURN;
    END IF;
    INSERT INTO studbook.erased (team_id, id, by)
    SELECT p_team, decode(n.id, 'hex'), p_erasure FROM jsonb_array_elements_text(v_ids) AS n (id)
     WHERE n.id ~ '^[0-9a-f]{64}$'
    ON CONFLICT DO NOTHING;
    WITH emptied AS (
        UPDATE studbook.entry e SET note = NULL, body = NULL
          FROM studbook.erased x
         WHERE x.team_id = p_team AND x.by = p_erasure
           AND e.team_id = p_team AND e.id = x.id AND e.kind <> 'erasure' AND e.body IS NOT NULL
        RETURNING e.line
    )
    DELETE FROM studbook.effect f USING studbook.entry e
     WHERE e.team_id = p_team AND e.line IN (SELECT b.line FROM emptied b) AND f.team_id = p_team AND f.id = e.id;
END
$$;

-- Record an erasure and apply it. The owner's business, at home.
CREATE OR REPLACE FUNCTION studbook.erase_entries(p_team uuid, p_new studbook.new_entry, p_event bytea) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_access(p_team);
    PERFORM studbook.append(p_team, ARRAY[p_new], true);
    INSERT INTO studbook.audit (team_id, event) VALUES (p_team, p_event);
END
$$;

-- Effects.

-- Keep what was computed of a revision. False, and nothing is kept, if an entry that it was computed from was erased
-- meanwhile; the lock lets nobody erase in between. Nobody waits for the disk: what a crash takes is computed again.
CREATE OR REPLACE FUNCTION studbook.keep_effects(
    p_team uuid, p_id bytea, p_engine integer, p_answer bytea, p_from bytea[])
RETURNS boolean
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_book(p_team);
    PERFORM set_config('synchronous_commit', 'off', true);
    IF EXISTS (SELECT FROM studbook.erased x WHERE x.team_id = p_team AND x.id = ANY (p_from)) THEN
        RETURN false;
    END IF;
    INSERT INTO studbook.effect AS f (team_id, id, engine, answer) VALUES (p_team, p_id, p_engine, p_answer)
    ON CONFLICT (team_id, id) DO UPDATE SET engine = excluded.engine, answer = excluded.answer
     WHERE f.engine < excluded.engine;
    RETURN true;
END
$$;
