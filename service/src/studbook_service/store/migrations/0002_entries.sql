-- The book itself: entries that never change, the tips of each line, and the keys of pushes already made.

CREATE TABLE studbook.entry (
    team_id      uuid NOT NULL REFERENCES studbook.team,
    seq          bigint NOT NULL,
    id           bytea NOT NULL CHECK (octet_length(id) = 32),
    kind         text COLLATE "C" NOT NULL,
    line         text COLLATE "C" NOT NULL,
    parents      bytea[] NOT NULL,
    generation   integer NOT NULL,
    content      bytea NOT NULL CHECK (octet_length(content) = 32),
    note         text,
    body         bytea NOT NULL,
    author       text COLLATE "C" NOT NULL,
    at_ms        bigint NOT NULL,
    received_at  timestamptz NOT NULL DEFAULT clock_timestamp(),
    via          text,
    carried_from bytea,
    chain        bytea NOT NULL CHECK (octet_length(chain) = 32),
    PRIMARY KEY (team_id, id),
    UNIQUE (team_id, seq)
);
CREATE INDEX entry_history ON studbook.entry (team_id, line, generation, id);

CREATE TABLE studbook.tip (
    team_id uuid NOT NULL,
    line    text COLLATE "C" NOT NULL,
    id      bytea NOT NULL,
    kind    text COLLATE "C" NOT NULL,
    PRIMARY KEY (team_id, line, id),
    FOREIGN KEY (team_id, id) REFERENCES studbook.entry
);
CREATE INDEX tip_kind ON studbook.tip (team_id, kind, line);

-- Kept for good: a retry is recognized however late it comes.
CREATE TABLE studbook.idempotency (
    team_id     uuid NOT NULL,
    key         text COLLATE "C" NOT NULL,
    fingerprint bytea NOT NULL,
    id          bytea NOT NULL,
    at          timestamptz NOT NULL DEFAULT clock_timestamp(),
    PRIMARY KEY (team_id, key),
    FOREIGN KEY (team_id, id) REFERENCES studbook.entry
);

CALL studbook.fence('studbook.entry');
CALL studbook.fence('studbook.tip');
CALL studbook.fence('studbook.idempotency');

-- Nobody changes an entry, its owner included.
CREATE FUNCTION studbook.refuse_change() RETURNS trigger
LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'an entry never changes: % on % is refused', TG_OP, TG_TABLE_NAME USING ERRCODE = 'SB003';
END
$$;
CREATE TRIGGER refuse_change BEFORE UPDATE OR DELETE OR TRUNCATE ON studbook.entry
    FOR EACH STATEMENT EXECUTE FUNCTION studbook.refuse_change();

CREATE TYPE studbook.new_entry AS (
    id bytea, kind text, line text, parents bytea[], content bytea, note text, body bytea,
    author text, at_ms bigint, carried_from bytea, via text
);

-- Take the team's place in the queue. All that follows in this transaction sees what earlier writers left.
CREATE FUNCTION studbook.lock_book(p_team uuid) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    PERFORM FROM studbook.book b WHERE b.team_id = p_team FOR NO KEY UPDATE;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'no such team' USING ERRCODE = 'SB001';
    END IF;
END
$$;

-- Write one entry; the book is locked by now.
CREATE FUNCTION studbook.enter(p_team uuid, p_new studbook.new_entry, OUT seq bigint, OUT generation integer)
LANGUAGE plpgsql AS $$
DECLARE
    v_known bytea[];
    v_chain bytea;
BEGIN
    SELECT coalesce(max(e.generation) + 1, 0), array_agg(e.id)
      INTO enter.generation, v_known
      FROM studbook.entry e
     WHERE e.team_id = p_team AND e.id = ANY (p_new.parents) AND e.line = p_new.line AND e.kind = p_new.kind;
    IF NOT p_new.parents <@ coalesce(v_known, '{}') THEN
        RAISE EXCEPTION 'a parent is not on this line' USING ERRCODE = 'SB002',
            DETAIL = (SELECT encode(p, 'hex') FROM unnest(p_new.parents) p
                       WHERE p <> ALL (coalesce(v_known, '{}')) ORDER BY p LIMIT 1);
    END IF;

    UPDATE studbook.book b SET seq = b.seq + 1, chain = sha256(b.chain || p_new.id)
     WHERE b.team_id = p_team
    RETURNING b.seq, b.chain INTO enter.seq, v_chain;

    INSERT INTO studbook.entry (team_id, seq, id, kind, line, parents, generation, content, note, body,
                                author, at_ms, via, carried_from, chain)
    VALUES (p_team, enter.seq, p_new.id, p_new.kind, p_new.line, p_new.parents, enter.generation, p_new.content,
            p_new.note, p_new.body, p_new.author, p_new.at_ms, p_new.via, p_new.carried_from, v_chain);

    DELETE FROM studbook.tip t WHERE t.team_id = p_team AND t.line = p_new.line AND t.id = ANY (p_new.parents);
    INSERT INTO studbook.tip (team_id, line, id, kind) VALUES (p_team, p_new.line, p_new.id, p_new.kind);
END
$$;

-- Push one entry onto the tips the caller saw (p_expected, sorted; empty for a new line).
-- outcome: recorded | replayed (id names what was recorded before) | key_reused | stale (tips says what is there).
CREATE FUNCTION studbook.push(
    p_team uuid, p_new studbook.new_entry, p_expected bytea[], p_key text, p_fingerprint bytea,
    OUT outcome text, OUT id bytea, OUT seq bigint, OUT generation integer, OUT tips bytea[])
LANGUAGE plpgsql AS $$
DECLARE
    v_fingerprint bytea;
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
        tips := ARRAY(SELECT t.id FROM studbook.tip t
                       WHERE t.team_id = p_team AND t.line = p_new.line ORDER BY t.id);
        IF tips = p_expected THEN
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
        outcome := CASE WHEN push.id IS NULL THEN 'stale' ELSE 'replayed' END;
    END IF;
    SELECT e.seq, e.generation INTO push.seq, push.generation
      FROM studbook.entry e WHERE e.team_id = p_team AND e.id = push.id;
END
$$;

-- Add ready entries, parents before children, whatever the tips: what another node's book or a loader brings.
CREATE FUNCTION studbook.append(p_team uuid, p_new studbook.new_entry[])
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
            SELECT r.seq, r.generation INTO append.seq, append.generation FROM studbook.enter(p_team, v_new) r;
        END IF;
        RETURN NEXT;
    END LOOP;
END
$$;
