-- Who may what: members who leave, tokens of nodes, shares, protection, the team's home; and the record of every change.

-- The fence anew: what is read and what is written are both of the team that the statement named, and of the scope it
-- named if it did. A share's holder is held to one line and what is below it; the rest is as if it were not there.
DROP PROCEDURE studbook.fence(regclass);
CREATE PROCEDURE studbook.fence(p_table regclass, p_in_scope text DEFAULT 'false')
LANGUAGE plpgsql AS $$
DECLARE
    c_own_team CONSTANT text := $own$team_id = current_setting('studbook.team')::uuid$own$;
    v_in_scope text := $scope$coalesce(current_setting('studbook.scope', true), '') = '' OR $scope$ || p_in_scope;
BEGIN
    EXECUTE format('ALTER TABLE %s ENABLE ROW LEVEL SECURITY', p_table);
    EXECUTE format('ALTER TABLE %s FORCE ROW LEVEL SECURITY', p_table);
    EXECUTE format('DROP POLICY IF EXISTS own_team ON %s', p_table);
    EXECUTE format('CREATE POLICY own_team ON %s USING (%s) WITH CHECK (%2$s)', p_table, c_own_team);
    EXECUTE format('CREATE POLICY in_scope ON %s AS RESTRICTIVE USING (%s) WITH CHECK (%2$s)', p_table, v_in_scope);
END
$$;
REVOKE ALL ON PROCEDURE studbook.fence(regclass, text) FROM PUBLIC;

-- NULL where the team's members, roles, protection and shares are kept here; else the peer where they are.
ALTER TABLE studbook.book ADD COLUMN home text COLLATE "C";

ALTER TABLE studbook.member
    ADD COLUMN ended_at timestamptz,
    ADD COLUMN erased boolean NOT NULL DEFAULT false;

-- What a node's token allows besides: revisions on protected sheets, and authors the team never had.
ALTER TABLE studbook.token
    ADD COLUMN protected boolean NOT NULL DEFAULT false,
    ADD COLUMN introduces boolean NOT NULL DEFAULT false;

-- What another team may see, until a date: a line and everything below it.
CREATE TABLE studbook.share (
    team_id  uuid NOT NULL REFERENCES studbook.team,
    id       text COLLATE "C" NOT NULL,
    hash     bytea NOT NULL CHECK (octet_length(hash) = 32),
    line     text COLLATE "C" NOT NULL CHECK (line <> ''),
    label    text NOT NULL,
    made_by  text COLLATE "C" NOT NULL,
    made_at  timestamptz NOT NULL DEFAULT clock_timestamp(),
    until    timestamptz NOT NULL,
    ended_at timestamptz,
    PRIMARY KEY (team_id, id),
    UNIQUE (team_id, hash),
    CONSTRAINT share_maker FOREIGN KEY (team_id, made_by) REFERENCES studbook.member
);

-- Lines on which only a chief records. Away from home nobody here decided it, and `by` is NULL.
CREATE TABLE studbook.protection (
    team_id uuid NOT NULL REFERENCES studbook.team,
    line    text COLLATE "C" NOT NULL,
    by      text COLLATE "C",
    at      timestamptz NOT NULL DEFAULT clock_timestamp(),
    PRIMARY KEY (team_id, line),
    CONSTRAINT protection_by FOREIGN KEY (team_id, by) REFERENCES studbook.member
);

CREATE TABLE studbook.audit (
    team_id uuid NOT NULL REFERENCES studbook.team,
    seq     bigint NOT NULL,
    said    bytea NOT NULL,
    chain   bytea NOT NULL CHECK (octet_length(chain) = 32),
    PRIMARY KEY (team_id, seq)
);

CALL studbook.fence('studbook.team');
CALL studbook.fence('studbook.book');
CALL studbook.fence('studbook.member');
CALL studbook.fence('studbook.token');
CALL studbook.fence('studbook.idempotency');
CALL studbook.fence('studbook.peer');
CALL studbook.fence('studbook.share');
CALL studbook.fence('studbook.protection');
CALL studbook.fence('studbook.audit');
CALL studbook.fence('studbook.entry', $$line = current_setting('studbook.scope', true)
    OR starts_with(line, current_setting('studbook.scope', true) || '/')$$);
CALL studbook.fence('studbook.tip', $$line = current_setting('studbook.scope', true)
    OR starts_with(line, current_setting('studbook.scope', true) || '/')$$);

CREATE TRIGGER list_token AFTER INSERT ON studbook.share
    FOR EACH ROW EXECUTE FUNCTION studbook.list_token();
CREATE TRIGGER advance_epoch AFTER INSERT OR UPDATE OR DELETE ON studbook.share
    FOR EACH STATEMENT EXECUTE FUNCTION studbook.advance_epoch();
CREATE TRIGGER advance_epoch AFTER INSERT OR UPDATE OR DELETE ON studbook.protection
    FOR EACH STATEMENT EXECUTE FUNCTION studbook.advance_epoch();

-- The record gives each line its number and chain itself, whoever writes it, and nobody changes one.
CREATE FUNCTION studbook.chain_audit() RETURNS trigger
LANGUAGE plpgsql AS $$
DECLARE
    v_chain bytea;
BEGIN
    PERFORM FROM studbook.book b WHERE b.team_id = NEW.team_id FOR NO KEY UPDATE;
    SELECT a.seq + 1, a.chain INTO NEW.seq, v_chain
      FROM studbook.audit a WHERE a.team_id = NEW.team_id ORDER BY a.seq DESC LIMIT 1;
    NEW.seq := coalesce(NEW.seq, 1);
    NEW.chain := sha256(coalesce(v_chain, decode(repeat('00', 32), 'hex')) || NEW.said);
    RETURN NEW;
END
$$;
CREATE TRIGGER chain_audit BEFORE INSERT ON studbook.audit
    FOR EACH ROW EXECUTE FUNCTION studbook.chain_audit();

CREATE OR REPLACE FUNCTION studbook.refuse_change() RETURNS trigger
LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'what is recorded never changes: % on % is refused', TG_OP, TG_TABLE_NAME USING ERRCODE = 'SB003';
END
$$;
CREATE TRIGGER refuse_change BEFORE UPDATE OR DELETE OR TRUNCATE ON studbook.audit
    FOR EACH STATEMENT EXECUTE FUNCTION studbook.refuse_change();

CREATE FUNCTION studbook.audit(p_team uuid, p_after bigint, p_limit integer)
RETURNS TABLE (seq bigint, said bytea, chain bytea)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT a.seq, a.said, a.chain FROM studbook.audit a
     WHERE a.team_id = p_team AND a.seq > p_after ORDER BY a.seq LIMIT p_limit;
END
$$;

-- Which team a token or share belongs to, and nothing else: the one look across teams, hence with the owner's rights.
CREATE FUNCTION studbook.team_of(p_hash bytea) RETURNS uuid
LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog AS $$
BEGIN
    RETURN (SELECT d.team_id FROM studbook.directory d WHERE d.hash = p_hash);
END
$$;
REVOKE ALL ON FUNCTION studbook.team_of(bytea) FROM PUBLIC;

-- Who holds this token or share. Dead ones, and those of members who left, are not found. A token allows the lesser of
-- its role and its member's, now; a node's is for a node, and no other is.
DROP FUNCTION studbook.bearer(bytea);
CREATE FUNCTION studbook.bearer(p_hash bytea)
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

CREATE FUNCTION studbook.home(p_team uuid) RETURNS text
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN (SELECT b.home FROM studbook.book b WHERE b.team_id = p_team);
END
$$;

-- Take the team's place in the queue to change who may what, where that is decided: at the team's home.
CREATE FUNCTION studbook.lock_access(p_team uuid) RETURNS void
LANGUAGE plpgsql AS $$
DECLARE
    v_home text;
BEGIN
    PERFORM studbook.lock_book(p_team);
    v_home := studbook.home(p_team);
    IF v_home IS NOT NULL THEN
        RAISE EXCEPTION 'who may what is decided at %', v_home USING ERRCODE = 'SB005', DETAIL = v_home;
    END IF;
END
$$;

CREATE FUNCTION studbook.set_home(p_team uuid, p_peer text, p_said bytea) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_book(p_team);
    UPDATE studbook.book b SET home = p_peer WHERE b.team_id = p_team;
    INSERT INTO studbook.audit (team_id, said) VALUES (p_team, p_said);
END
$$;

DROP FUNCTION studbook.members(uuid);
CREATE FUNCTION studbook.members(p_team uuid)
RETURNS TABLE (id text, name text, role text, ended boolean, erased boolean)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT m.id, m.name, m.role, m.ended_at IS NOT NULL, m.erased
      FROM studbook.member m WHERE m.team_id = p_team ORDER BY m.id;
END
$$;

DROP FUNCTION studbook.add_member(uuid, text, text, text);
CREATE FUNCTION studbook.add_member(
    p_team uuid, p_id text, p_name text, p_role text, p_ended boolean, p_said bytea) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_access(p_team);
    INSERT INTO studbook.member (team_id, id, name, role, ended_at)
    VALUES (p_team, p_id, p_name, p_role, CASE WHEN p_ended THEN clock_timestamp() END);
    INSERT INTO studbook.audit (team_id, said) VALUES (p_team, p_said);
END
$$;

-- Change what is not NULL. The tokens of one who leaves are revoked for good: whoever comes back gets new ones.
CREATE FUNCTION studbook.change_member(
    p_team uuid, p_id text, p_name text, p_role text, p_ended boolean, p_said bytea)
RETURNS TABLE (id text, name text, role text, ended boolean, erased boolean)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_access(p_team);
    UPDATE studbook.member m
       SET name = coalesce(p_name, m.name), role = coalesce(p_role, m.role), erased = m.erased AND p_name IS NULL,
           ended_at = CASE WHEN p_ended THEN coalesce(m.ended_at, clock_timestamp())
                           WHEN NOT p_ended THEN NULL
                           ELSE m.ended_at END
     WHERE m.team_id = p_team AND m.id = p_id;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'the team has no member %', p_id USING ERRCODE = 'SB007';
    END IF;
    IF NOT EXISTS (SELECT FROM studbook.member m
                    WHERE m.team_id = p_team AND m.role = 'chief' AND m.ended_at IS NULL) THEN
        RAISE EXCEPTION 'a team keeps a chief, and % is the last', p_id USING ERRCODE = 'SB008';
    END IF;
    IF p_ended THEN
        UPDATE studbook.token t SET revoked_at = clock_timestamp()
         WHERE t.team_id = p_team AND t.member_id = p_id AND t.revoked_at IS NULL;
    END IF;
    INSERT INTO studbook.audit (team_id, said) VALUES (p_team, p_said);
    RETURN QUERY SELECT m.id, m.name, m.role, m.ended, m.erased FROM studbook.members(p_team) m WHERE m.id = p_id;
END
$$;

-- What another node calls authors whom nobody here knows. They are let in by nobody: who may what, home decides.
CREATE OR REPLACE FUNCTION studbook.name_members(p_team uuid, p_ids text[], p_names text[]) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_book(p_team);
    INSERT INTO studbook.member (team_id, id, name, role, ended_at)
    SELECT p_team, n.id, n.name, 'viewer', clock_timestamp() FROM unnest(p_ids, p_names) AS n (id, name)
    ON CONFLICT (team_id, id) DO NOTHING;
END
$$;

CREATE TYPE studbook.known_member AS (id text, name text, role text, ended boolean, erased boolean);

-- Take over what the team's home says of its members, and just its protection. It is asked at every exchange, so what
-- is no news is not written: every write makes all workers ask for all tokens again.
CREATE FUNCTION studbook.take_home(p_team uuid, p_members studbook.known_member[], p_protected text[]) RETURNS void
LANGUAGE plpgsql AS $$
DECLARE
    v_news studbook.known_member[];
BEGIN
    PERFORM studbook.lock_book(p_team);
    IF studbook.home(p_team) IS NULL THEN
        RAISE EXCEPTION 'this node is the team''s home' USING ERRCODE = 'SB006';
    END IF;
    v_news := ARRAY(
        SELECT n::studbook.known_member FROM unnest(p_members) n
          LEFT JOIN studbook.member m ON m.team_id = p_team AND m.id = n.id
         WHERE m.id IS NULL
            OR (m.name, m.role, m.ended_at IS NOT NULL, m.erased) IS DISTINCT FROM (n.name, n.role, n.ended, n.erased));
    IF v_news <> '{}' THEN
        INSERT INTO studbook.member AS m (team_id, id, name, role, ended_at, erased)
        SELECT p_team, n.id, n.name, n.role, CASE WHEN n.ended THEN clock_timestamp() END, n.erased
          FROM unnest(v_news) n
        ON CONFLICT (team_id, id) DO UPDATE
           SET name = excluded.name, role = excluded.role, erased = excluded.erased,
               ended_at = CASE WHEN excluded.ended_at IS NOT NULL THEN coalesce(m.ended_at, excluded.ended_at) END;
    END IF;
    IF studbook.protected(p_team) IS DISTINCT FROM p_protected THEN
        DELETE FROM studbook.protection p WHERE p.team_id = p_team AND p.line <> ALL (p_protected);
        INSERT INTO studbook.protection (team_id, line) SELECT p_team, line FROM unnest(p_protected) line
        ON CONFLICT DO NOTHING;
    END IF;
END
$$;

CREATE FUNCTION studbook.tokens(p_team uuid)
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

-- Tokens of persons may be made anywhere, and open this node's book alone; what opens a book to a node is for home.
DROP FUNCTION studbook.add_token(uuid, bytea, text, text, text, timestamptz);
CREATE FUNCTION studbook.add_token(
    p_team uuid, p_hash bytea, p_member text, p_role text, p_label text, p_expires timestamptz,
    p_protected boolean, p_introduces boolean, p_said bytea) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    IF p_role = 'node' THEN
        PERFORM studbook.lock_access(p_team);
    ELSE
        PERFORM studbook.lock_book(p_team);
    END IF;
    INSERT INTO studbook.token (team_id, hash, member_id, role, label, expires_at, protected, introduces)
    VALUES (p_team, p_hash, p_member, p_role, p_label, p_expires, p_protected, p_introduces);
    INSERT INTO studbook.audit (team_id, said) VALUES (p_team, p_said);
END
$$;

DROP FUNCTION studbook.revoke_token(uuid, bytea);
CREATE FUNCTION studbook.revoke_token(p_team uuid, p_id text, p_said bytea) RETURNS boolean
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_book(p_team);
    UPDATE studbook.token t SET revoked_at = clock_timestamp()
     WHERE t.team_id = p_team AND left(encode(t.hash, 'hex'), 12) = p_id AND t.revoked_at IS NULL;
    IF NOT FOUND THEN
        RETURN false;
    END IF;
    INSERT INTO studbook.audit (team_id, said) VALUES (p_team, p_said);
    RETURN true;
END
$$;

CREATE FUNCTION studbook.shares(p_team uuid)
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

CREATE FUNCTION studbook.add_share(
    p_team uuid, p_id text, p_hash bytea, p_line text, p_label text, p_until timestamptz, p_by text, p_said bytea)
RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_access(p_team);
    INSERT INTO studbook.share (team_id, id, hash, line, label, made_by, until)
    VALUES (p_team, p_id, p_hash, p_line, p_label, p_by, p_until);
    INSERT INTO studbook.audit (team_id, said) VALUES (p_team, p_said);
END
$$;

CREATE FUNCTION studbook.end_share(p_team uuid, p_id text, p_said bytea) RETURNS boolean
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_access(p_team);
    UPDATE studbook.share s SET ended_at = clock_timestamp()
     WHERE s.team_id = p_team AND s.id = p_id AND s.ended_at IS NULL AND s.until > clock_timestamp();
    IF NOT FOUND THEN
        RETURN false;
    END IF;
    INSERT INTO studbook.audit (team_id, said) VALUES (p_team, p_said);
    RETURN true;
END
$$;

CREATE FUNCTION studbook.protected(p_team uuid) RETURNS text[]
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN ARRAY(SELECT p.line FROM studbook.protection p WHERE p.team_id = p_team ORDER BY p.line);
END
$$;

CREATE FUNCTION studbook.protect(p_team uuid, p_line text, p_by text, p_said bytea) RETURNS boolean
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_access(p_team);
    INSERT INTO studbook.protection (team_id, line, by) VALUES (p_team, p_line, p_by) ON CONFLICT DO NOTHING;
    IF NOT FOUND THEN
        RETURN false;
    END IF;
    INSERT INTO studbook.audit (team_id, said) VALUES (p_team, p_said);
    RETURN true;
END
$$;

CREATE FUNCTION studbook.unprotect(p_team uuid, p_line text, p_said bytea) RETURNS boolean
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_access(p_team);
    DELETE FROM studbook.protection p WHERE p.team_id = p_team AND p.line = p_line;
    IF NOT FOUND THEN
        RETURN false;
    END IF;
    INSERT INTO studbook.audit (team_id, said) VALUES (p_team, p_said);
    RETURN true;
END
$$;

-- A team begins with its book, its chief and one token. The owner's business: the serving role may not.
DROP FUNCTION studbook.found_team(uuid, text, bytea, text, text, bytea);
CREATE FUNCTION studbook.found_team(
    p_team uuid, p_name text, p_book bytea, p_chief text, p_chief_name text, p_hash bytea, p_said bytea) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    INSERT INTO studbook.team (team_id, name) VALUES (p_team, p_name);
    INSERT INTO studbook.book (team_id, book) VALUES (p_team, p_book);
    INSERT INTO studbook.member (team_id, id, name, role) VALUES (p_team, p_chief, p_chief_name, 'chief');
    INSERT INTO studbook.token (team_id, hash, member_id, role, label)
    VALUES (p_team, p_hash, p_chief, 'chief', 'first token');
    INSERT INTO studbook.audit (team_id, said) VALUES (p_team, p_said);
END
$$;
REVOKE ALL ON FUNCTION studbook.found_team(uuid, text, bytea, text, text, bytea, bytea) FROM PUBLIC;

-- Forget what the crew calls a member. The owner's business, at home.
CREATE FUNCTION studbook.erase_name(p_team uuid, p_id text, p_said bytea) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM studbook.lock_access(p_team);
    UPDATE studbook.member m SET name = '', erased = true WHERE m.team_id = p_team AND m.id = p_id;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'the team has no member %', p_id USING ERRCODE = 'SB007';
    END IF;
    INSERT INTO studbook.audit (team_id, said) VALUES (p_team, p_said);
END
$$;
REVOKE ALL ON FUNCTION studbook.erase_name(uuid, text, bytea) FROM PUBLIC;
