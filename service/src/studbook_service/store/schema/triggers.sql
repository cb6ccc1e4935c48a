-- What happens by itself, whoever writes: the trigger functions and, at the end, which tables have them.

-- Every token and share is in the directory. With the owner's rights, since nobody else writes there.
CREATE OR REPLACE FUNCTION studbook.add_to_directory() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
BEGIN
    INSERT INTO studbook.directory (hash, team_id) VALUES (NEW.hash, NEW.team_id);
    RETURN NULL;
END
$$;

-- Every change of access, and every erasure, advances the epoch. Services read it to know that what they keep in
-- memory is old.
CREATE OR REPLACE FUNCTION studbook.advance_epoch() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
BEGIN
    UPDATE studbook.access_epoch SET epoch = epoch + 1;
    RETURN NULL;
END
$$;

-- The audit gives each row its number and chain itself.
CREATE OR REPLACE FUNCTION studbook.chain_audit() RETURNS trigger
LANGUAGE plpgsql AS $$
DECLARE
    v_chain bytea;
BEGIN
    PERFORM FROM studbook.book b WHERE b.team_id = NEW.team_id FOR NO KEY UPDATE;
    SELECT a.seq + 1, a.chain INTO NEW.seq, v_chain
      FROM studbook.audit a WHERE a.team_id = NEW.team_id ORDER BY a.seq DESC LIMIT 1;
    NEW.seq := coalesce(NEW.seq, 1);
    NEW.chain := sha256(coalesce(v_chain, decode(repeat('00', 32), 'hex')) || NEW.event);
    RETURN NEW;
END
$$;

-- Nobody changes what is recorded, its owner included.
CREATE OR REPLACE FUNCTION studbook.refuse_change() RETURNS trigger
LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'what is recorded never changes: % on % is refused', TG_OP, TG_TABLE_NAME USING ERRCODE = 'SB003';
END
$$;

-- Nor an entry: one that was erased may lose its note and body, and that is all.
CREATE OR REPLACE FUNCTION studbook.refuse_change_but_erasing() RETURNS trigger
LANGUAGE plpgsql AS $$
DECLARE
    v_emptied studbook.entry := OLD;
BEGIN
    v_emptied.note := NULL;
    v_emptied.body := NULL;
    IF NEW IS DISTINCT FROM v_emptied
       OR NOT EXISTS (SELECT FROM studbook.erased x WHERE x.team_id = OLD.team_id AND x.id = OLD.id) THEN
        RAISE EXCEPTION 'what is recorded never changes: UPDATE on entry is refused' USING ERRCODE = 'SB003';
    END IF;
    RETURN NEW;
END
$$;

-- A token or share that ended stays so, from the moment when it was ended: nobody makes that undone, later or earlier.
CREATE OR REPLACE FUNCTION studbook.keep_revoked() RETURNS trigger
LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.revoked_at IS NULL AND NEW.revoked_at IS NOT NULL THEN
        NEW.revoked_at := clock_timestamp();
    ELSIF NEW.revoked_at IS DISTINCT FROM OLD.revoked_at THEN
        RAISE EXCEPTION 'an ended token is never taken back' USING ERRCODE = 'SB003';
    END IF;
    RETURN NEW;
END
$$;

CREATE OR REPLACE FUNCTION studbook.keep_ended() RETURNS trigger
LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.ended_at IS NULL AND NEW.ended_at IS NOT NULL THEN
        NEW.ended_at := clock_timestamp();
    ELSIF NEW.ended_at IS DISTINCT FROM OLD.ended_at THEN
        RAISE EXCEPTION 'an ended share is never taken back' USING ERRCODE = 'SB003';
    END IF;
    RETURN NEW;
END
$$;

-- The tokens of a member who leaves are revoked for good, here and wherever the home's word comes: whoever comes back
-- gets new ones.
CREATE OR REPLACE FUNCTION studbook.revoke_tokens() RETURNS trigger
LANGUAGE plpgsql AS $$
BEGIN
    UPDATE studbook.token t SET revoked_at = clock_timestamp()
     WHERE t.team_id = NEW.team_id AND t.member_id = NEW.id AND t.revoked_at IS NULL;
    RETURN NULL;
END
$$;

CREATE OR REPLACE TRIGGER add_to_directory AFTER INSERT ON studbook.token
    FOR EACH ROW EXECUTE FUNCTION studbook.add_to_directory();
CREATE OR REPLACE TRIGGER add_to_directory AFTER INSERT ON studbook.share
    FOR EACH ROW EXECUTE FUNCTION studbook.add_to_directory();

CREATE OR REPLACE TRIGGER advance_epoch AFTER INSERT OR UPDATE OR DELETE ON studbook.member
    FOR EACH STATEMENT EXECUTE FUNCTION studbook.advance_epoch();
CREATE OR REPLACE TRIGGER advance_epoch AFTER INSERT OR UPDATE OR DELETE ON studbook.token
    FOR EACH STATEMENT EXECUTE FUNCTION studbook.advance_epoch();
CREATE OR REPLACE TRIGGER advance_epoch AFTER INSERT OR UPDATE OR DELETE ON studbook.share
    FOR EACH STATEMENT EXECUTE FUNCTION studbook.advance_epoch();
CREATE OR REPLACE TRIGGER advance_epoch AFTER INSERT OR UPDATE OR DELETE ON studbook.protection
    FOR EACH STATEMENT EXECUTE FUNCTION studbook.advance_epoch();
CREATE OR REPLACE TRIGGER advance_epoch AFTER INSERT ON studbook.erased
    FOR EACH STATEMENT EXECUTE FUNCTION studbook.advance_epoch();

CREATE OR REPLACE TRIGGER keep_revoked BEFORE UPDATE ON studbook.token
    FOR EACH ROW EXECUTE FUNCTION studbook.keep_revoked();
CREATE OR REPLACE TRIGGER keep_ended BEFORE UPDATE ON studbook.share
    FOR EACH ROW EXECUTE FUNCTION studbook.keep_ended();
CREATE OR REPLACE TRIGGER revoke_tokens AFTER UPDATE OF ended_at ON studbook.member
    FOR EACH ROW WHEN (NEW.ended_at IS NOT NULL) EXECUTE FUNCTION studbook.revoke_tokens();

CREATE OR REPLACE TRIGGER chain_audit BEFORE INSERT ON studbook.audit
    FOR EACH ROW EXECUTE FUNCTION studbook.chain_audit();

CREATE OR REPLACE TRIGGER refuse_change BEFORE UPDATE OR DELETE OR TRUNCATE ON studbook.audit
    FOR EACH STATEMENT EXECUTE FUNCTION studbook.refuse_change();
CREATE OR REPLACE TRIGGER refuse_change BEFORE DELETE OR TRUNCATE ON studbook.entry
    FOR EACH STATEMENT EXECUTE FUNCTION studbook.refuse_change();
CREATE OR REPLACE TRIGGER refuse_change_but_erasing BEFORE UPDATE ON studbook.entry
    FOR EACH ROW EXECUTE FUNCTION studbook.refuse_change_but_erasing();
