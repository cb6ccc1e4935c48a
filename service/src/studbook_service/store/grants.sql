-- What the serving role may do: read, add, move the tips, and change who may what. It owns nothing, and changes neither
-- an entry nor the record of changes. Run after every migration; :role is the quoted name.
REVOKE ALL ON ALL TABLES IN SCHEMA studbook FROM :role;
REVOKE ALL ON ALL FUNCTIONS IN SCHEMA studbook FROM :role;
GRANT USAGE ON SCHEMA studbook TO :role;
GRANT SELECT ON studbook.migration, studbook.access_epoch, studbook.reading, studbook.team, studbook.book,
    studbook.member, studbook.token, studbook.share, studbook.protection, studbook.audit, studbook.entry,
    studbook.erased, studbook.tip, studbook.idempotency, studbook.peer, studbook.effect TO :role;
GRANT INSERT ON studbook.member, studbook.token, studbook.share, studbook.protection, studbook.entry, studbook.tip,
    studbook.idempotency, studbook.peer, studbook.effect TO :role;
GRANT INSERT (team_id, said) ON studbook.audit TO :role;
GRANT UPDATE (seq, chain, home) ON studbook.book TO :role;
GRANT UPDATE (name, role, ended_at, erased) ON studbook.member TO :role;
GRANT UPDATE (revoked_at) ON studbook.token TO :role;
GRANT UPDATE (ended_at) ON studbook.share TO :role;
GRANT UPDATE (url, version, standing) ON studbook.peer TO :role;
GRANT UPDATE (engine, told) ON studbook.effect TO :role;
GRANT DELETE ON studbook.tip, studbook.protection TO :role;
GRANT EXECUTE ON FUNCTION studbook.team_of(bytea), studbook.join_book(uuid, bytea), studbook.carry_out(uuid, bytea)
    TO :role;
