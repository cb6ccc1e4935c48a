-- What the serving role may do: read, add, and move the tips. It owns nothing and changes no entry.
-- Run after every migration; :role is the quoted name.
REVOKE ALL ON ALL TABLES IN SCHEMA studbook FROM :role;
REVOKE ALL ON ALL FUNCTIONS IN SCHEMA studbook FROM :role;
GRANT USAGE ON SCHEMA studbook TO :role;
GRANT SELECT ON studbook.migration, studbook.access_epoch, studbook.reading, studbook.team, studbook.book,
    studbook.member, studbook.token, studbook.entry, studbook.tip, studbook.idempotency, studbook.peer TO :role;
GRANT INSERT ON studbook.member, studbook.token, studbook.entry, studbook.tip, studbook.idempotency, studbook.peer
    TO :role;
GRANT UPDATE (seq, chain) ON studbook.book TO :role;
GRANT UPDATE (name) ON studbook.member TO :role;
GRANT UPDATE (url, version, standing) ON studbook.peer TO :role;
GRANT UPDATE (revoked_at) ON studbook.token TO :role;
GRANT DELETE ON studbook.tip TO :role;
GRANT EXECUTE ON FUNCTION studbook.bearer(bytea), studbook.join_book(uuid, bytea) TO :role;
