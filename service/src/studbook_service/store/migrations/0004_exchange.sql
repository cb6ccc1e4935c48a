-- Exchanging with other nodes: reading a book in its own order, and what is kept about each peer.

-- `standing` says how far each book knows the other; it moves in the same transaction as the entries it speaks of.
-- `version` counts its changes, so that two exchanges with one peer at once notice.
CREATE TABLE studbook.peer (
    team_id  uuid NOT NULL REFERENCES studbook.team,
    name     text COLLATE "C" NOT NULL,
    url      text NOT NULL,
    version  bigint NOT NULL,
    standing bytea NOT NULL,
    PRIMARY KEY (team_id, name)
);
CALL studbook.fence('studbook.peer');

CREATE FUNCTION studbook.since(p_team uuid, p_seq bigint, p_limit integer)
RETURNS TABLE (seq bigint, chain bytea, id bytea, kind text, line text, parents bytea[], content bytea, note text,
               author text, at_ms bigint, carried_from bytea, via text, body bytea)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT e.seq, e.chain, e.id, e.kind, e.line, e.parents, e.content, e.note,
           e.author, e.at_ms, e.carried_from, e.via, e.body
      FROM studbook.entry e WHERE e.team_id = p_team AND e.seq > p_seq ORDER BY e.seq LIMIT p_limit;
END
$$;

CREATE FUNCTION studbook.chain_at(p_team uuid, p_seq bigint) RETURNS bytea
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN (SELECT e.chain FROM studbook.entry e WHERE e.team_id = p_team AND e.seq = p_seq);
END
$$;

CREATE FUNCTION studbook.places(p_team uuid, p_ids bytea[]) RETURNS TABLE (id bytea, line text, kind text)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY SELECT e.id, e.line, e.kind FROM studbook.entry e WHERE e.team_id = p_team AND e.id = ANY (p_ids);
END
$$;

CREATE FUNCTION studbook.several(p_team uuid, p_ids bytea[]) RETURNS SETOF studbook.reading
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY SELECT r.* FROM studbook.reading r WHERE r.team_id = p_team AND r.id = ANY (p_ids);
END
$$;

-- Add entries a peer brought, and how we stand with it now: both or neither. No peer of that name, or not this version:
-- another exchange is under way, or the peer was taken off.
CREATE FUNCTION studbook.receive(
    p_team uuid, p_new studbook.new_entry[], p_peer text, p_version bigint, p_standing bytea)
RETURNS TABLE (id bytea, seq bigint, generation integer, added boolean)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_book(p_team);
    UPDATE studbook.peer p SET version = p_version, standing = p_standing
     WHERE p.team_id = p_team AND p.name = p_peer AND p.version = p_version - 1;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'what is kept about peer % changed meanwhile', p_peer USING ERRCODE = 'SB004';
    END IF;
    RETURN QUERY SELECT a.id, a.seq, a.generation, a.added FROM studbook.append(p_team, p_new) a;
END
$$;

CREATE FUNCTION studbook.peers(p_team uuid)
RETURNS TABLE (name text, url text, version bigint, standing bytea)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT p.name, p.url, p.version, p.standing FROM studbook.peer p WHERE p.team_id = p_team ORDER BY p.name;
END
$$;

-- Add a peer, or begin anew with one.
CREATE FUNCTION studbook.set_peer(p_team uuid, p_name text, p_url text, p_standing bytea) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_book(p_team);
    INSERT INTO studbook.peer (team_id, name, url, version, standing) VALUES (p_team, p_name, p_url, 0, p_standing)
    ON CONFLICT (team_id, name) DO UPDATE SET url = p_url, version = 0, standing = p_standing;
END
$$;

-- How many entries after a number did not come from one bringer.
CREATE FUNCTION studbook.waiting(p_team uuid, p_seq bigint, p_via text) RETURNS bigint
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN (SELECT count(*) FROM studbook.entry e
             WHERE e.team_id = p_team AND e.seq > p_seq AND e.via IS DISTINCT FROM p_via);
END
$$;

-- A book that never met another may take another's identity and so become one with it. With the owner's rights: the
-- serving role changes no identity but so.
CREATE FUNCTION studbook.join_book(p_team uuid, p_book bytea) RETURNS boolean
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

REVOKE ALL ON FUNCTION studbook.join_book(uuid, bytea) FROM PUBLIC;

-- What another node calls its members. A member who is only known by name has no token and may nothing.
CREATE FUNCTION studbook.name_members(p_team uuid, p_ids text[], p_names text[]) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    INSERT INTO studbook.member (team_id, id, name, role)
    SELECT p_team, n.id, n.name, 'viewer' FROM unnest(p_ids, p_names) AS n (id, name)
    ON CONFLICT (team_id, id) DO UPDATE SET name = excluded.name WHERE member.name <> excluded.name;
END
$$;
