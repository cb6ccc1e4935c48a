-- Teams, their members and tokens, and the fence that keeps each team to its own rows.
-- team_id leads every key and index; text keys sort by byte (COLLATE "C"), so that ranges over slugs mean what they say.

-- The fence. The setting is cast to uuid, so a statement that forgot to name its team fails instead of reading nothing.
-- FORCE holds the owner to it too (a superuser excepted, whom `serve` refuses).
CREATE PROCEDURE studbook.fence(p_table regclass)
LANGUAGE plpgsql AS $$
BEGIN
    EXECUTE format('ALTER TABLE %s ENABLE ROW LEVEL SECURITY', p_table);
    EXECUTE format('ALTER TABLE %s FORCE ROW LEVEL SECURITY', p_table);
    EXECUTE format(
        'CREATE POLICY own_team ON %s USING (team_id = current_setting(''studbook.team'')::uuid)', p_table);
END
$$;
REVOKE ALL ON PROCEDURE studbook.fence(regclass) FROM PUBLIC;

CREATE TABLE studbook.team (
    team_id    uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    name       text NOT NULL,
    created_at timestamptz NOT NULL DEFAULT clock_timestamp()
);

-- One row per team: the last sequence number given out, and the hash that chains all entries up to it.
-- Every write locks this row first, so there is one writer per team at a time.
CREATE TABLE studbook.book (
    team_id uuid PRIMARY KEY REFERENCES studbook.team,
    seq     bigint NOT NULL DEFAULT 0,
    chain   bytea NOT NULL DEFAULT decode(repeat('00', 32), 'hex') CHECK (octet_length(chain) = 32),
    book    bytea NOT NULL CHECK (octet_length(book) = 8)
);

CREATE TABLE studbook.member (
    team_id uuid NOT NULL REFERENCES studbook.team,
    id      text COLLATE "C" NOT NULL,
    name    text NOT NULL,
    role    text NOT NULL CHECK (role IN ('viewer', 'crew', 'chief', 'node')),
    PRIMARY KEY (team_id, id)
);

-- Only the SHA-256 of a token is kept. Tokens are revoked, never deleted.
CREATE TABLE studbook.token (
    team_id    uuid NOT NULL,
    hash       bytea NOT NULL CHECK (octet_length(hash) = 32),
    member_id  text COLLATE "C" NOT NULL,
    role       text NOT NULL CHECK (role IN ('viewer', 'crew', 'chief', 'node')),
    label      text NOT NULL,
    created_at timestamptz NOT NULL DEFAULT clock_timestamp(),
    expires_at timestamptz,
    revoked_at timestamptz,
    PRIMARY KEY (team_id, hash),
    CONSTRAINT token_member FOREIGN KEY (team_id, member_id) REFERENCES studbook.member
);

-- The one table across teams: which team a token belongs to. Nobody but its owner may look, except through bearer().
CREATE TABLE studbook.directory (
    hash    bytea PRIMARY KEY,
    team_id uuid NOT NULL
);

CREATE TABLE studbook.access_epoch (
    only_row boolean PRIMARY KEY DEFAULT true CHECK (only_row),
    epoch    bigint NOT NULL DEFAULT 0
);
INSERT INTO studbook.access_epoch DEFAULT VALUES;

CALL studbook.fence('studbook.team');
CALL studbook.fence('studbook.book');
CALL studbook.fence('studbook.member');
CALL studbook.fence('studbook.token');

CREATE FUNCTION studbook.list_token() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
BEGIN
    INSERT INTO studbook.directory (hash, team_id) VALUES (NEW.hash, NEW.team_id);
    RETURN NULL;
END
$$;
CREATE TRIGGER list_token AFTER INSERT ON studbook.token
    FOR EACH ROW EXECUTE FUNCTION studbook.list_token();

CREATE FUNCTION studbook.advance_epoch() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
BEGIN
    UPDATE studbook.access_epoch SET epoch = epoch + 1;
    RETURN NULL;
END
$$;
CREATE TRIGGER advance_epoch AFTER INSERT OR UPDATE OR DELETE ON studbook.member
    FOR EACH STATEMENT EXECUTE FUNCTION studbook.advance_epoch();
CREATE TRIGGER advance_epoch AFTER INSERT OR UPDATE OR DELETE ON studbook.token
    FOR EACH STATEMENT EXECUTE FUNCTION studbook.advance_epoch();

-- Who holds this token: asked before a team is known, hence with the owner's rights. Dead tokens are not found.
CREATE FUNCTION studbook.bearer(p_hash bytea)
RETURNS TABLE (team uuid, member text, role text, name text, expires timestamptz)
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
DECLARE
    v_team uuid := (SELECT d.team_id FROM studbook.directory d WHERE d.hash = p_hash);
BEGIN
    IF v_team IS NULL THEN
        RETURN;
    END IF;
    PERFORM set_config('studbook.team', v_team::text, true);
    RETURN QUERY
    SELECT t.team_id, t.member_id, t.role, m.name, t.expires_at
      FROM studbook.token t JOIN studbook.member m ON m.team_id = t.team_id AND m.id = t.member_id
     WHERE t.team_id = v_team AND t.hash = p_hash
       AND t.revoked_at IS NULL AND (t.expires_at IS NULL OR t.expires_at > now());
END
$$;
REVOKE ALL ON FUNCTION studbook.bearer(bytea) FROM PUBLIC;

CREATE FUNCTION studbook.members(p_team uuid)
RETURNS TABLE (id text, name text, role text)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY SELECT m.id, m.name, m.role FROM studbook.member m WHERE m.team_id = p_team ORDER BY m.id;
END
$$;

CREATE FUNCTION studbook.add_member(p_team uuid, p_id text, p_name text, p_role text) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    INSERT INTO studbook.member (team_id, id, name, role) VALUES (p_team, p_id, p_name, p_role);
END
$$;

CREATE FUNCTION studbook.add_token(
    p_team uuid, p_hash bytea, p_member text, p_role text, p_label text, p_expires timestamptz) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    INSERT INTO studbook.token (team_id, hash, member_id, role, label, expires_at)
    VALUES (p_team, p_hash, p_member, p_role, p_label, p_expires);
END
$$;

CREATE FUNCTION studbook.revoke_token(p_team uuid, p_hash bytea) RETURNS boolean
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    UPDATE studbook.token SET revoked_at = clock_timestamp()
     WHERE team_id = p_team AND hash = p_hash AND revoked_at IS NULL;
    RETURN FOUND;
END
$$;

-- A team begins with its book, its chief and one token. The owner's business: the serving role may not.
CREATE FUNCTION studbook.found_team(
    p_team uuid, p_name text, p_book bytea, p_chief text, p_chief_name text, p_hash bytea) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    INSERT INTO studbook.team (team_id, name) VALUES (p_team, p_name);
    INSERT INTO studbook.book (team_id, book) VALUES (p_team, p_book);
    PERFORM studbook.add_member(p_team, p_chief, p_chief_name, 'chief');
    PERFORM studbook.add_token(p_team, p_hash, p_chief, 'chief', 'first token', NULL);
END
$$;
REVOKE ALL ON FUNCTION studbook.found_team(uuid, text, bytea, text, text, bytea) FROM PUBLIC;
