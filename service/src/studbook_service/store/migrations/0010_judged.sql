-- What an entry was judged by stands still until it is recorded: of two fittings of a part at one moment one is judged anew.

-- Push one entry onto the tips the caller saw (p_expected, sorted; empty for a new line).
-- p_seen, p_lines: where the book stood before the caller looked at lines that begin so, and judged by them; else NULL.
-- outcome: recorded | replayed (id names what was recorded before) | key_reused | protected | stale (tips says what is
-- there) | moved (another entry is on those lines by now).
DROP FUNCTION studbook.push(uuid, studbook.new_entry, bytea[], text, bytea, boolean);
CREATE FUNCTION studbook.push(
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
        outcome := CASE WHEN push.id IS NOT NULL THEN 'replayed'
                        WHEN v_protected THEN 'protected'
                        WHEN tips = p_expected THEN 'moved'
                        ELSE 'stale' END;
    END IF;
    SELECT e.seq, e.generation INTO push.seq, push.generation
      FROM studbook.entry e WHERE e.team_id = p_team AND e.id = push.id;
END
$$;
