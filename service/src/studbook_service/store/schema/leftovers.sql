-- Drop what the parts no longer make. All that the parts before this one made or replaced was written by this very
-- transaction, so all else is of a former release. Triggers go before the functions that they call, functions before
-- the views whose rows they return. Policies are left to rights.sql: they call no function.
DO $$
DECLARE
    v_this CONSTANT xid := pg_current_xact_id()::xid;
    v_drop text;
BEGIN
    FOR v_drop IN
        SELECT format('DROP TRIGGER %I ON %s', t.tgname, c.oid::regclass)
          FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid
         WHERE c.relnamespace = 'studbook'::regnamespace AND NOT t.tgisinternal AND t.xmin <> v_this
    LOOP
        EXECUTE v_drop;
    END LOOP;
    FOR v_drop IN
        SELECT format('DROP ROUTINE %s', p.oid::regprocedure) FROM pg_proc p
         WHERE p.pronamespace = 'studbook'::regnamespace AND p.xmin <> v_this
    LOOP
        EXECUTE v_drop;
    END LOOP;
    FOR v_drop IN
        SELECT format('DROP VIEW %s', c.oid::regclass) FROM pg_class c JOIN pg_rewrite r ON r.ev_class = c.oid
         WHERE c.relnamespace = 'studbook'::regnamespace AND c.relkind = 'v' AND r.xmin <> v_this
    LOOP
        EXECUTE v_drop;
    END LOOP;
END
$$;
