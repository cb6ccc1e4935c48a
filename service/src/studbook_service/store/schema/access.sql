-- Access: bearers, members, tokens, shares, protection, the team's home, and the audit of every change.

-- Which team a token or share belongs to, and nothing else: the one look across teams, hence with the owner's rights.
CREATE OR REPLACE FUNCTION studbook.team_of(p_hash bytea) RETURNS uuid
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog AS $$
BEGIN
    RETURN (SELECT d.team_id FROM studbook.directory d WHERE d.hash = p_hash);
END
$$;

-- The bearer of a token or share. Dead ones are not found, nor those of members who left. A token allows the lesser of
-- its role and its member's role of now. A node's token is for a node, and a node has no other.
CREATE OR REPLACE FUNCTION studbook.bearer(p_hash bytea)
RETURNS TABLE (team uuid, member text, role text, name text, expires timestamptz,
               scope text, protected boolean, introduces boolean)
LANGUAGE plpgsql AS $$
DECLARE
    v_team uuid := studbook.team_of(p_hash);
BEGIN
    IF v_team IS NULL THEN
        RETURN;
    END IF;
    PERFORM set_config('studbook.team', v_team::text, true);
    RETURN QUERY
    SELECT t.team_id, t.member_id,
           CASE WHEN 'viewer' IN (t.role, m.role) THEN 'viewer'
                WHEN 'crew' IN (t.role, m.role) THEN 'crew'
                ELSE m.role END,
           m.name, t.expires_at, NULL::text, t.protected, t.introduces
      FROM studbook.token t JOIN studbook.member m ON m.team_id = t.team_id AND m.id = t.member_id
     WHERE t.team_id = v_team AND t.hash = p_hash
       AND t.revoked_at IS NULL AND (t.expires_at IS NULL OR t.expires_at > now())
       AND m.ended_at IS NULL AND (t.role = 'node') = (m.role = 'node');
    IF FOUND THEN
        RETURN;
    END IF;
    RETURN QUERY
    SELECT s.team_id, s.id, 'share', s.label, s.until, s.line, false, false
      FROM studbook.share s
     WHERE s.team_id = v_team AND s.hash = p_hash AND s.ended_at IS NULL AND s.until > now();
END
$$;

CREATE OR REPLACE FUNCTION studbook.audit(p_team uuid, p_after bigint, p_limit integer)
RETURNS TABLE (seq bigint, event bytea, chain bytea)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT a.seq, a.event, a.chain FROM studbook.audit a
     WHERE a.team_id = p_team AND a.seq > p_after ORDER BY a.seq LIMIT p_limit;
END
$$;

CREATE OR REPLACE FUNCTION studbook.home(p_team uuid) RETURNS text
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN (SELECT b.home FROM studbook.book b WHERE b.team_id = p_team);
END
$$;

-- Take the team's place in the queue to change access. That is decided at the team's home.
CREATE OR REPLACE FUNCTION studbook.lock_access(p_team uuid) RETURNS void
LANGUAGE plpgsql AS $$
DECLARE
    v_home text;
BEGIN
    PERFORM studbook.lock_book(p_team);
    v_home := studbook.home(p_team);
    IF v_home IS NOT NULL THEN
        RAISE EXCEPTION 'access is decided at %', v_home USING ERRCODE = 'SB005', DETAIL = v_home;
    END IF;
END
$$;

CREATE OR REPLACE FUNCTION studbook.set_home(p_team uuid, p_peer text, p_event bytea) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_book(p_team);
    UPDATE studbook.book b SET home = p_peer WHERE b.team_id = p_team;
    INSERT INTO studbook.audit (team_id, event) VALUES (p_team, p_event);
END
$$;

-- Members.

CREATE OR REPLACE FUNCTION studbook.members(p_team uuid)
RETURNS TABLE (id text, name text, role text, ended boolean, erased boolean)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT m.id, m.name, m.role, m.ended_at IS NOT NULL, m.erased
      FROM studbook.member m WHERE m.team_id = p_team ORDER BY m.id;
END
$$;

CREATE OR REPLACE FUNCTION studbook.add_member(
    p_team uuid, p_id text, p_name text, p_role text, p_ended boolean, p_event bytea) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_access(p_team);
    INSERT INTO studbook.member (team_id, id, name, role, ended_at)
    VALUES (p_team, p_id, p_name, p_role, CASE WHEN p_ended THEN clock_timestamp() END);
    INSERT INTO studbook.audit (team_id, event) VALUES (p_team, p_event);
END
$$;

-- End a membership, or bring a member back. With the owner's rights: the serving role does that in no other way, and
-- not without an event at home, or the home's word elsewhere. A trigger revokes the tokens of one who leaves.
CREATE OR REPLACE FUNCTION studbook.set_ended(p_team uuid, p_id text, p_ended boolean, p_event bytea) RETURNS void
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
BEGIN
    IF (p_event IS NULL) <> (studbook.home(p_team) IS NOT NULL) THEN
        RAISE EXCEPTION 'who has left is decided at the team''s home, and recorded there' USING ERRCODE = 'SB006';
    END IF;
    UPDATE studbook.member m SET ended_at = CASE WHEN p_ended THEN coalesce(m.ended_at, clock_timestamp()) END
     WHERE m.team_id = p_team AND m.id = p_id;
    IF p_event IS NOT NULL THEN
        INSERT INTO studbook.audit (team_id, event) VALUES (p_team, p_event);
    END IF;
END
$$;

-- Change what is not NULL.
CREATE OR REPLACE FUNCTION studbook.change_member(
    p_team uuid, p_id text, p_name text, p_role text, p_ended boolean, p_event bytea)
RETURNS TABLE (id text, name text, role text, ended boolean, erased boolean)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_access(p_team);
    UPDATE studbook.member m
       SET name = coalesce(p_name, m.name), role = coalesce(p_role, m.role), erased = m.erased AND p_name IS NULL
     WHERE m.team_id = p_team AND m.id = p_id;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'the team has no member %', p_id USING ERRCODE = 'SB007';
    END IF;
    IF p_ended IS NULL THEN
        INSERT INTO studbook.audit (team_id, event) VALUES (p_team, p_event);
    ELSE
        PERFORM studbook.set_ended(p_team, p_id, p_ended, p_event);
    END IF;
    IF NOT EXISTS (SELECT FROM studbook.member m
                    WHERE m.team_id = p_team AND m.role = 'chief' AND m.ended_at IS NULL) THEN
        RAISE EXCEPTION 'a team keeps a chief, and % is the last', p_id USING ERRCODE = 'SB008';
    END IF;
    RETURN QUERY SELECT m.id, m.name, m.role, m.ended, m.erased FROM studbook.members(p_team) m WHERE m.id = p_id;
END
$$;

-- Forget what the crew calls a member. The owner's business, at home.
CREATE OR REPLACE FUNCTION studbook.erase_name(p_team uuid, p_id text, p_event bytea) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_access(p_team);
    UPDATE studbook.member m SET name = '', erased = true WHERE m.team_id = p_team AND m.id = p_id;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'the team has no member %', p_id USING ERRCODE = 'SB007';
    END IF;
    INSERT INTO studbook.audit (team_id, event) VALUES (p_team, p_event);
END
$$;

-- Audit a change if it was made, and return whether it was.
CREATE OR REPLACE FUNCTION studbook.audited(p_team uuid, p_event bytea, p_made boolean) RETURNS boolean
LANGUAGE plpgsql AS $$
BEGIN
    IF p_made THEN
        INSERT INTO studbook.audit (team_id, event) VALUES (p_team, p_event);
    END IF;
    RETURN p_made;
END
$$;

-- Tokens.

CREATE OR REPLACE FUNCTION studbook.tokens(p_team uuid)
RETURNS TABLE (id text, member text, role text, label text, created_at timestamptz, expires_at timestamptz,
               revoked_at timestamptz, protected boolean, introduces boolean)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT left(encode(t.hash, 'hex'), 12), t.member_id, t.role, t.label, t.created_at, t.expires_at, t.revoked_at,
           t.protected, t.introduces
      FROM studbook.token t WHERE t.team_id = p_team ORDER BY t.created_at DESC, t.hash;
END
$$;

-- A person's token may be made anywhere, and opens this node's book alone. What opens a book to a node is made at home.
CREATE OR REPLACE FUNCTION studbook.add_token(
    p_team uuid, p_hash bytea, p_member text, p_role text, p_label text, p_expires timestamptz,
    p_protected boolean, p_introduces boolean, p_event bytea) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    IF p_role = 'node' THEN
        PERFORM studbook.lock_access(p_team);
    ELSE
        PERFORM studbook.lock_book(p_team);
    END IF;
    INSERT INTO studbook.token (team_id, hash, member_id, role, label, expires_at, protected, introduces)
    VALUES (p_team, p_hash, p_member, p_role, p_label, p_expires, p_protected, p_introduces);
    INSERT INTO studbook.audit (team_id, event) VALUES (p_team, p_event);
END
$$;

CREATE OR REPLACE FUNCTION studbook.revoke_token(p_team uuid, p_id text, p_event bytea) RETURNS boolean
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_book(p_team);
    UPDATE studbook.token t SET revoked_at = clock_timestamp()
     WHERE t.team_id = p_team AND left(encode(t.hash, 'hex'), 12) = p_id AND t.revoked_at IS NULL;
    RETURN studbook.audited(p_team, p_event, FOUND);
END
$$;

-- Shares.

CREATE OR REPLACE FUNCTION studbook.shares(p_team uuid)
RETURNS TABLE (id text, line text, label text, made_by text, made_at timestamptz, until timestamptz,
               ended_at timestamptz)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT s.id, s.line, s.label, s.made_by, s.made_at, s.until, s.ended_at
      FROM studbook.share s WHERE s.team_id = p_team ORDER BY s.made_at DESC, s.id;
END
$$;

CREATE OR REPLACE FUNCTION studbook.add_share(
    p_team uuid, p_id text, p_hash bytea, p_line text, p_label text, p_until timestamptz, p_by text, p_event bytea)
RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_access(p_team);
    INSERT INTO studbook.share (team_id, id, hash, line, label, made_by, until)
    VALUES (p_team, p_id, p_hash, p_line, p_label, p_by, p_until);
    INSERT INTO studbook.audit (team_id, event) VALUES (p_team, p_event);
END
$$;

CREATE OR REPLACE FUNCTION studbook.end_share(p_team uuid, p_id text, p_event bytea) RETURNS boolean
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_access(p_team);
    UPDATE studbook.share s SET ended_at = clock_timestamp()
     WHERE s.team_id = p_team AND s.id = p_id AND s.ended_at IS NULL AND s.until > clock_timestamp();
    RETURN studbook.audited(p_team, p_event, FOUND);
END
$$;

-- Protection.

CREATE OR REPLACE FUNCTION studbook.protected(p_team uuid) RETURNS text[]
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN ARRAY(SELECT p.line FROM studbook.protection p WHERE p.team_id = p_team ORDER BY p.line);
END
$$;

CREATE OR REPLACE FUNCTION studbook.protect(p_team uuid, p_line text, p_by text, p_event bytea) RETURNS boolean
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_access(p_team);
    INSERT INTO studbook.protection (team_id, line, by) VALUES (p_team, p_line, p_by) ON CONFLICT DO NOTHING;
    RETURN studbook.audited(p_team, p_event, FOUND);
END
$$;

CREATE OR REPLACE FUNCTION studbook.unprotect(p_team uuid, p_line text, p_event bytea) RETURNS boolean
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_access(p_team);
    DELETE FROM studbook.protection p WHERE p.team_id = p_team AND p.line = p_line;
    RETURN studbook.audited(p_team, p_event, FOUND);
END
$$;

-- Founding.

-- A team begins with its book, its chief and one token. The owner's business.
CREATE OR REPLACE FUNCTION studbook.found_team(
    p_team uuid, p_name text, p_book bytea, p_chief text, p_chief_name text, p_hash bytea, p_event bytea) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    INSERT INTO studbook.team (team_id, name) VALUES (p_team, p_name);
    INSERT INTO studbook.book (team_id, book) VALUES (p_team, p_book);
    INSERT INTO studbook.member (team_id, id, name, role) VALUES (p_team, p_chief, p_chief_name, 'chief');
    INSERT INTO studbook.token (team_id, hash, member_id, role, label)
    VALUES (p_team, p_hash, p_chief, 'chief', 'first token');
    INSERT INTO studbook.audit (team_id, event) VALUES (p_team, p_event);
END
$$;
