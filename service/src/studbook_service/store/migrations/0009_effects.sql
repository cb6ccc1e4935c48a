-- What each revision's change does, as it was computed: derived, so that whoever has the entries can compute it again.

-- One row for a revision, of the newest engine that told of it.
CREATE TABLE studbook.effect (
    team_id uuid NOT NULL,
    id      bytea NOT NULL,
    engine  integer NOT NULL,
    told    bytea NOT NULL,
    PRIMARY KEY (team_id, id),
    FOREIGN KEY (team_id, id) REFERENCES studbook.entry
);
CALL studbook.fence('studbook.effect');

CREATE FUNCTION studbook.effects(p_team uuid, p_ids bytea[], p_engine integer) RETURNS TABLE (id bytea, told bytea)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT f.id, f.told FROM studbook.effect f
     WHERE f.team_id = p_team AND f.id = ANY (p_ids) AND f.engine = p_engine;
END
$$;

-- Revisions of which this engine, or a newer one, told nothing yet; the newest first.
CREATE FUNCTION studbook.without_effects(p_team uuid, p_engine integer, p_limit integer) RETURNS SETOF bytea
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT e.id FROM studbook.entry e
     WHERE e.team_id = p_team AND e.kind = 'sheet' AND e.body IS NOT NULL AND cardinality(e.parents) > 0
       AND NOT EXISTS (SELECT FROM studbook.effect f
                        WHERE f.team_id = p_team AND f.id = e.id AND f.engine >= p_engine)
     ORDER BY e.seq DESC LIMIT p_limit;
END
$$;

-- Keep what is told of a revision. False, and nothing is kept, if something of what it was computed from was erased
-- meanwhile; the lock lets nobody erase in between. No one waits for the disk: what a crash takes is computed again.
CREATE FUNCTION studbook.keep_effects(p_team uuid, p_id bytea, p_engine integer, p_told bytea, p_from bytea[])
RETURNS boolean
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_book(p_team);
    PERFORM set_config('synchronous_commit', 'off', true);
    IF EXISTS (SELECT FROM studbook.erased x WHERE x.team_id = p_team AND x.id = ANY (p_from)) THEN
        RETURN false;
    END IF;
    INSERT INTO studbook.effect AS f (team_id, id, engine, told) VALUES (p_team, p_id, p_engine, p_told)
    ON CONFLICT (team_id, id) DO UPDATE SET engine = excluded.engine, told = excluded.told
     WHERE f.engine < excluded.engine;
    RETURN true;
END
$$;

-- Take note and body from what an erasure in this book names; erasures themselves stay whole. With them goes what is
-- told of every change on the same lines: figures of later revisions tell of earlier ones. With the owner's rights:
-- the serving role changes no entry but so.
CREATE OR REPLACE FUNCTION studbook.carry_out(p_team uuid, p_erasure bytea) RETURNS void
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
    WITH bared AS (
        UPDATE studbook.entry e SET note = NULL, body = NULL
          FROM studbook.erased x
         WHERE x.team_id = p_team AND x.by = p_erasure
           AND e.team_id = p_team AND e.id = x.id AND e.kind <> 'erasure' AND e.body IS NOT NULL
        RETURNING e.line
    )
    DELETE FROM studbook.effect f USING studbook.entry e
     WHERE e.team_id = p_team AND e.line IN (SELECT b.line FROM bared b) AND f.team_id = p_team AND f.id = e.id;
END
$$;
