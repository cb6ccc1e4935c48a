-- Exchanging with other nodes: the book in its own order, and what is kept about each peer.

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

CREATE OR REPLACE FUNCTION studbook.chain_at(p_team uuid, p_seq bigint) RETURNS bytea
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN (SELECT e.chain FROM studbook.entry e WHERE e.team_id = p_team AND e.seq = p_seq);
END
$$;

-- Line and kind of those entries that the team has.
CREATE OR REPLACE FUNCTION studbook.places(p_team uuid, p_ids bytea[]) RETURNS TABLE (id bytea, line text, kind text)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY SELECT e.id, e.line, e.kind FROM studbook.entry e WHERE e.team_id = p_team AND e.id = ANY (p_ids);
END
$$;

-- How many entries after a number did not come from one bringer.
CREATE OR REPLACE FUNCTION studbook.waiting(p_team uuid, p_seq bigint, p_via text) RETURNS bigint
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN (SELECT count(*) FROM studbook.entry e
             WHERE e.team_id = p_team AND e.seq > p_seq AND e.via IS DISTINCT FROM p_via);
END
$$;

CREATE OR REPLACE FUNCTION studbook.peers(p_team uuid)
RETURNS TABLE (name text, url text, version bigint, state bytea)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT p.name, p.url, p.version, p.state FROM studbook.peer p WHERE p.team_id = p_team ORDER BY p.name;
END
$$;

-- Add a peer, or begin again with one.
CREATE OR REPLACE FUNCTION studbook.set_peer(p_team uuid, p_name text, p_url text, p_state bytea) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_book(p_team);
    INSERT INTO studbook.peer (team_id, name, url, version, state) VALUES (p_team, p_name, p_url, 0, p_state)
    ON CONFLICT (team_id, name) DO UPDATE SET url = p_url, version = 0, state = p_state;
END
$$;

-- Add the entries that a peer brought, and keep its state: both or neither. No peer of that name, or not this version:
-- another exchange is under way, or the peer was taken off. Erasures are applied on the word of the team's home.
CREATE OR REPLACE FUNCTION studbook.receive(
    p_team uuid, p_new studbook.new_entry[], p_peer text, p_version bigint, p_state bytea, p_apply_erasures boolean)
RETURNS TABLE (id bytea, seq bigint, generation integer, added boolean)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_book(p_team);
    UPDATE studbook.peer p SET version = p_version, state = p_state
     WHERE p.team_id = p_team AND p.name = p_peer AND p.version = p_version - 1;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'what is kept about peer % changed meanwhile', p_peer USING ERRCODE = 'SB004';
    END IF;
    RETURN QUERY
    SELECT a.id, a.seq, a.generation, a.added
      FROM studbook.append(p_team, p_new, p_apply_erasures AND studbook.home(p_team) IS NOT DISTINCT FROM p_peer) a;
END
$$;

-- A book that never met another may take another's identity and so become one with it. With the owner's rights: the
-- serving role changes no identity in any other way.
CREATE OR REPLACE FUNCTION studbook.join_book(p_team uuid, p_book bytea) RETURNS boolean
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
BEGIN
    PERFORM studbook.lock_book(p_team);
    UPDATE studbook.book b SET book = p_book
     WHERE b.team_id = p_team
       AND (b.book = p_book
            OR NOT EXISTS (SELECT FROM studbook.peer p WHERE p.team_id = p_team)
               AND NOT EXISTS (SELECT FROM studbook.entry e WHERE e.team_id = p_team AND e.via IS NOT NULL)
               AND NOT EXISTS (SELECT FROM studbook.token t WHERE t.team_id = p_team AND t.role = 'node'));
    RETURN FOUND;
END
$$;

-- Keep what another node calls authors whom nobody here knows, so that no old copy brings an erased name back. They are
-- entered as members who left: home decides access.
CREATE OR REPLACE FUNCTION studbook.name_members(p_team uuid, p_ids text[], p_names text[]) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_book(p_team);
    INSERT INTO studbook.member (team_id, id, name, role, ended_at)
    SELECT p_team, n.id, n.name, 'viewer', clock_timestamp() FROM unnest(p_ids, p_names) AS n (id, name)
    ON CONFLICT (team_id, id) DO NOTHING;
END
$$;

-- Take over the home node's members and its protection, all of it. This is called at every exchange, so what is no news
-- is not written: every write makes all services look up all tokens again.
CREATE OR REPLACE FUNCTION studbook.take_home(p_team uuid, p_members studbook.home_member[], p_protected text[])
RETURNS void
LANGUAGE plpgsql AS $$
DECLARE
    v_changed studbook.home_member[];
BEGIN
    PERFORM studbook.lock_book(p_team);
    IF studbook.home(p_team) IS NULL THEN
        RAISE EXCEPTION 'this node is the team''s home' USING ERRCODE = 'SB006';
    END IF;
    v_changed := ARRAY(
        SELECT n::studbook.home_member FROM unnest(p_members) n
          LEFT JOIN studbook.member m ON m.team_id = p_team AND m.id = n.id
         WHERE m.id IS NULL
            OR (m.name, m.role, m.ended_at IS NOT NULL, m.erased) IS DISTINCT FROM (n.name, n.role, n.ended, n.erased));
    IF v_changed <> '{}' THEN
        INSERT INTO studbook.member AS m (team_id, id, name, role, ended_at, erased)
        SELECT p_team, n.id, n.name, n.role, CASE WHEN n.ended THEN clock_timestamp() END, n.erased
          FROM unnest(v_changed) n
        ON CONFLICT (team_id, id) DO UPDATE
           SET name = excluded.name, role = excluded.role, erased = excluded.erased;
        PERFORM studbook.set_ended(p_team, n.id, n.ended, NULL) FROM unnest(v_changed) n;
    END IF;
    IF studbook.protected(p_team) IS DISTINCT FROM p_protected THEN
        DELETE FROM studbook.protection p WHERE p.team_id = p_team AND p.line <> ALL (p_protected);
        INSERT INTO studbook.protection (team_id, line) SELECT p_team, line FROM unnest(p_protected) line
        ON CONFLICT DO NOTHING;
    END IF;
END
$$;
