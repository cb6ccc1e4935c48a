-- Row-level security and grants. :role is the quoted name of the serving role.

-- The fence: a statement reads and writes rows of the team that it named, and of the scope that it named if it did. The
-- setting is cast to uuid, so a statement that forgot to name its team is an error and not an empty answer. FORCE
-- holds the owner to it too (but no superuser, whom `serve` refuses). The bearer of a share is held to p_in_scope: one
-- line and what is below it. The rest is as if it were not there.
--
-- A policy's comment is its condition as written here. A table that has both policies already is left alone: else each
-- upgrade would lock out the readers of every table.
CREATE OR REPLACE PROCEDURE studbook.fence(p_table regclass, p_in_scope text DEFAULT 'false')
LANGUAGE plpgsql AS $$
DECLARE
    v_own_team text := $own$team_id = current_setting('studbook.team')::uuid$own$;
    v_in_scope text := $scope$coalesce(current_setting('studbook.scope', true), '') = '' OR $scope$ || p_in_scope;
    v_policies jsonb := (SELECT jsonb_object_agg(p.polname, obj_description(p.oid, 'pg_policy'))
                           FROM pg_policy p WHERE p.polrelid = p_table);
    v_name     text;
BEGIN
    IF v_policies = jsonb_build_object('own_team', v_own_team, 'in_scope', v_in_scope)
       AND (SELECT c.relrowsecurity AND c.relforcerowsecurity FROM pg_class c WHERE c.oid = p_table) THEN
        RETURN;
    END IF;
    EXECUTE format('ALTER TABLE %s ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY', p_table);
    FOR v_name IN SELECT p.polname FROM pg_policy p WHERE p.polrelid = p_table LOOP
        EXECUTE format('DROP POLICY %I ON %s', v_name, p_table);
    END LOOP;
    EXECUTE format('CREATE POLICY own_team ON %s USING (%s) WITH CHECK (%2$s)', p_table, v_own_team);
    EXECUTE format('CREATE POLICY in_scope ON %s AS RESTRICTIVE USING (%s) WITH CHECK (%2$s)', p_table, v_in_scope);
    EXECUTE format('COMMENT ON POLICY own_team ON %s IS %L', p_table, v_own_team);
    EXECUTE format('COMMENT ON POLICY in_scope ON %s IS %L', p_table, v_in_scope);
END
$$;

CALL studbook.fence('studbook.book');
CALL studbook.fence('studbook.idempotency');
CALL studbook.fence('studbook.protection');
CALL studbook.fence('studbook.tip', $$line = current_setting('studbook.scope', true)
    OR starts_with(line, current_setting('studbook.scope', true) || '/')$$);
CALL studbook.fence('studbook.entry', $$line = current_setting('studbook.scope', true)
    OR starts_with(line, current_setting('studbook.scope', true) || '/')$$);
CALL studbook.fence('studbook.team');
CALL studbook.fence('studbook.member');
CALL studbook.fence('studbook.token');
CALL studbook.fence('studbook.share');
CALL studbook.fence('studbook.audit');
CALL studbook.fence('studbook.erased');
CALL studbook.fence('studbook.effect');
CALL studbook.fence('studbook.peer');

-- The serving role reads, adds, moves the tips, and changes access. It owns nothing, and changes neither an entry
-- nor the audit. It may end a token or a share, and a trigger lets nobody undo that; members come and go by functions.
REVOKE ALL ON ALL TABLES IN SCHEMA studbook FROM PUBLIC, :role;
GRANT USAGE ON SCHEMA studbook TO :role;
GRANT SELECT ON studbook.migration, studbook.applied_parts, studbook.access_epoch, studbook.entry_with_author,
    studbook.team, studbook.book, studbook.member, studbook.token, studbook.share, studbook.protection, studbook.audit,
    studbook.entry, studbook.erased, studbook.tip, studbook.idempotency, studbook.peer, studbook.effect TO :role;
GRANT INSERT ON studbook.member, studbook.token, studbook.share, studbook.protection, studbook.entry, studbook.tip,
    studbook.idempotency, studbook.peer, studbook.effect TO :role;
GRANT INSERT (team_id, event) ON studbook.audit TO :role;
GRANT UPDATE (seq, chain, home) ON studbook.book TO :role;
GRANT UPDATE (name, role, erased) ON studbook.member TO :role;
GRANT UPDATE (revoked_at) ON studbook.token TO :role;
GRANT UPDATE (ended_at) ON studbook.share TO :role;
GRANT UPDATE (url, version, state) ON studbook.peer TO :role;
GRANT UPDATE (engine, answer) ON studbook.effect TO :role;
GRANT DELETE ON studbook.tip, studbook.protection TO :role;

-- It calls every function but the owner's, and no procedure.
REVOKE ALL ON ALL ROUTINES IN SCHEMA studbook FROM PUBLIC, :role;
GRANT EXECUTE ON ALL FUNCTIONS IN SCHEMA studbook TO :role;
REVOKE ALL ON FUNCTION
    studbook.found_team(uuid, text, bytea, text, text, bytea, bytea),
    studbook.erase_name(uuid, text, bytea),
    studbook.erase_entries(uuid, studbook.new_entry, bytea) FROM :role;
