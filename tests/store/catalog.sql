-- All that the schema studbook holds, one row for each thing: its kind, its name, and how the server spells it out.
WITH relation AS (
    SELECT c.*, c.oid::regclass::text AS name FROM pg_class c
     WHERE c.relnamespace = 'studbook'::regnamespace AND c.relkind IN ('r', 'p', 'v', 'm', 'c', 'S', 'f')
)
SELECT 'relation' AS kind, name,
       concat_ws(' ', relkind, relpersistence, 'security', relrowsecurity, relforcerowsecurity, reloptions,
                 reloftype::regtype, relreplident) AS spelled
  FROM relation
 UNION ALL
SELECT 'column', format('%s.%s', name, a.attname),
       concat_ws(' ', row_number() OVER (PARTITION BY a.attrelid ORDER BY a.attnum),
                 format_type(a.atttypid, a.atttypmod), a.attnotnull, a.attidentity, a.attgenerated,
                 a.attcollation::regcollation, pg_get_expr(d.adbin, d.adrelid))
  FROM relation r JOIN pg_attribute a ON a.attrelid = r.oid AND a.attnum > 0 AND NOT a.attisdropped
  LEFT JOIN pg_attrdef d ON d.adrelid = a.attrelid AND d.adnum = a.attnum
 UNION ALL
SELECT 'constraint', format('%s.%s', name, k.conname), concat_ws(' ', pg_get_constraintdef(k.oid), k.convalidated)
  FROM relation r JOIN pg_constraint k ON k.conrelid = r.oid
 UNION ALL
SELECT 'index', i.indexrelid::regclass::text,
       concat_ws(' ', pg_get_indexdef(i.indexrelid), i.indisvalid, i.indisunique, i.indisprimary)
  FROM relation r JOIN pg_index i ON i.indrelid = r.oid
 UNION ALL
SELECT 'policy', format('%s.%s', name, p.polname),
       concat_ws(' ', p.polpermissive, p.polcmd, p.polroles, pg_get_expr(p.polqual, p.polrelid),
                 pg_get_expr(p.polwithcheck, p.polrelid))
  FROM relation r JOIN pg_policy p ON p.polrelid = r.oid
 UNION ALL
SELECT 'trigger', format('%s.%s', name, t.tgname), concat_ws(' ', pg_get_triggerdef(t.oid), t.tgenabled)
  FROM relation r JOIN pg_trigger t ON t.tgrelid = r.oid AND NOT t.tgisinternal
 UNION ALL
SELECT 'view', name, pg_get_viewdef(oid) FROM relation WHERE relkind IN ('v', 'm')
 UNION ALL
SELECT 'rule', format('%s.%s', name, w.rulename), concat_ws(' ', pg_get_ruledef(w.oid), w.ev_enabled)
  FROM relation r JOIN pg_rewrite w ON w.ev_class = r.oid
 UNION ALL
SELECT 'routine', p.oid::regprocedure::text, pg_get_functiondef(p.oid)
  FROM pg_proc p WHERE p.pronamespace = 'studbook'::regnamespace AND p.prokind <> 'a'
 UNION ALL
SELECT 'type', t.oid::regtype::text, concat_ws(' ', t.typtype, t.typnotnull, t.typdefault, t.typbasetype::regtype,
       (SELECT array_agg(e.enumlabel ORDER BY e.enumsortorder) FROM pg_enum e WHERE e.enumtypid = t.oid))
  FROM pg_type t WHERE t.typnamespace = 'studbook'::regnamespace
 UNION ALL
SELECT 'statistics', s.stxname, pg_get_statisticsobjdef(s.oid)
  FROM pg_statistic_ext s WHERE s.stxnamespace = 'studbook'::regnamespace
 UNION ALL
SELECT 'grant', format('%s to %s', object, CASE grantee WHEN 0 THEN 'PUBLIC' ELSE grantee::regrole::text END),
       string_agg(concat_ws(' ', privilege_type, is_grantable), ', ' ORDER BY privilege_type)
  FROM (SELECT 'schema' AS object, x.* FROM pg_namespace n,
               aclexplode(coalesce(n.nspacl, acldefault('n', n.nspowner))) x WHERE n.nspname = 'studbook'
         UNION ALL
        SELECT name, x.* FROM relation r,
               aclexplode(coalesce(r.relacl, acldefault(CASE r.relkind WHEN 'S' THEN 's' ELSE 'r' END::"char",
                                                        r.relowner))) x WHERE r.relkind <> 'c'
         UNION ALL
        SELECT format('%s.%s', name, a.attname), x.* FROM relation r
          JOIN pg_attribute a ON a.attrelid = r.oid AND NOT a.attisdropped, aclexplode(a.attacl) x
         UNION ALL
        SELECT p.oid::regprocedure::text, x.* FROM pg_proc p,
               aclexplode(coalesce(p.proacl, acldefault('f', p.proowner))) x
         WHERE p.pronamespace = 'studbook'::regnamespace) granted
 GROUP BY object, grantee
