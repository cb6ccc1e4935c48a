-- Drop what the parts no longer make. All that the parts before this one made or replaced was written by this very
-- transaction, so all else is of a former release. Policies have no CREATE OR REPLACE: rights.sql makes all of them anew.
-- Triggers and policies go before the functions that they call, functions before the views whose rows they return.
DO $$
DECLARE
    v_this CONSTANT xid := pg_current_xact_id()::xid;
    v_drop text;
BEGIN
    FOR v_drop IN
        SELECT format('DROP TRIGGER %I ON %s', t.tgname, c.oid::regclass)
          FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid
         WHERE c.relnamespace = 'studbook'::regnamespace AND NOT t.tgisinternal AND t.xmin <> v_this
         UNION ALL
        SELECT format('DROP POLICY %I ON %s', p.polname, c.oid::regclass)
          FROM pg_policy p JOIN pg_class c ON c.oid = p.polrelid
         WHERE c.relnamespace = 'studbook'::regnamespace
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
