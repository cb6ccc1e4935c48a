-- Every statement the store sends, by name. {columns} is the head of an entry, with or without its body (see book.py).

-- name: push
SELECT outcome, id, seq, generation, tips FROM studbook.push($1, $2, $3, $4, $5, $6, $7, $8)

-- name: append
SELECT id, seq, generation, added FROM studbook.append($1, $2, $3)

-- name: get
SELECT {columns} FROM studbook.get($1, $2)

-- name: document
SELECT content, body FROM studbook.document($1, $2)

-- name: tips
SELECT {columns} FROM studbook.tips($1, $2)

-- name: heads
SELECT {columns} FROM studbook.heads($1, $2, $3)

-- name: head_page
SELECT {columns} FROM studbook.head_page($1, $2, $3, $4, $5)

-- name: history
SELECT {columns} FROM studbook.history($1, $2, $3, $4, $5)

-- name: ancestors
SELECT {columns} FROM studbook.ancestors($1, $2, $3)

-- name: first_recorded
SELECT line, at_ms FROM studbook.first_recorded($1, $2)

-- name: find
SELECT id FROM studbook.find($1, $2, $3, $4) AS id

-- name: team_head
SELECT seq, chain, book FROM studbook.team_head($1)

-- name: since
SELECT seq, chain, id, kind, line, parents, content, note, author, at_ms, carried_from, via, body
  FROM studbook.since($1, $2, $3)

-- name: export_page
SELECT {columns}, current FROM studbook.export_page($1, $2, $3, $4, $5, $6)

-- name: effects
SELECT id, answer FROM studbook.effects($1, $2, $3)

-- name: without_effects
SELECT id FROM studbook.without_effects($1, $2, $3) AS id

-- name: keep_effects
SELECT studbook.keep_effects($1, $2, $3, $4, $5)

-- name: chain_at
SELECT studbook.chain_at($1, $2)

-- name: places
SELECT id, line, kind FROM studbook.places($1, $2)

-- name: several
SELECT {columns} FROM studbook.several($1, $2)

-- name: receive
SELECT id, seq, generation, added FROM studbook.receive($1, $2, $3, $4, $5, $6)

-- name: peers
SELECT name, url, version, state FROM studbook.peers($1)

-- name: set_peer
SELECT studbook.set_peer($1, $2, $3, $4)

-- name: waiting
SELECT studbook.waiting($1, $2, $3)

-- name: join_book
SELECT studbook.join_book($1, $2)

-- name: name_members
SELECT studbook.name_members($1, $2, $3)

-- name: set_scope
SELECT set_config('studbook.scope', $1, true)

-- name: bearer
SELECT team, member, role, name, expires, scope, protected, introduces FROM studbook.bearer($1)

-- name: epoch
SELECT epoch FROM studbook.access_epoch

-- name: members
SELECT id, name, role, ended, erased FROM studbook.members($1)

-- name: add_member
SELECT studbook.add_member($1, $2, $3, $4, $5, $6)

-- name: change_member
SELECT id, name, role, ended, erased FROM studbook.change_member($1, $2, $3, $4, $5, $6)

-- name: tokens
SELECT id, member, role, label, created_at, expires_at, revoked_at, protected, introduces FROM studbook.tokens($1)

-- name: add_token
SELECT studbook.add_token($1, $2, $3, $4, $5, $6, $7, $8, $9)

-- name: revoke_token
SELECT studbook.revoke_token($1, $2, $3)

-- name: shares
SELECT id, line, label, made_by, made_at, until, ended_at FROM studbook.shares($1)

-- name: add_share
SELECT studbook.add_share($1, $2, $3, $4, $5, $6, $7, $8)

-- name: end_share
SELECT studbook.end_share($1, $2, $3)

-- name: protected
SELECT studbook.protected($1)

-- name: protect
SELECT studbook.protect($1, $2, $3, $4)

-- name: unprotect
SELECT studbook.unprotect($1, $2, $3)

-- name: audit
SELECT seq, event, chain FROM studbook.audit($1, $2, $3)

-- name: home
SELECT studbook.home($1)

-- name: set_home
SELECT studbook.set_home($1, $2, $3)

-- name: take_home
SELECT studbook.take_home($1, $2, $3)

-- name: erase_entries
SELECT studbook.erase_entries($1, $2, $3)

-- name: erase_name
SELECT studbook.erase_name($1, $2, $3)

-- name: found_team
SELECT studbook.found_team($1, $2, $3, $4, $5, $6, $7)

-- name: any_team
SELECT EXISTS (SELECT FROM studbook.directory)

-- name: teams
SELECT DISTINCT team_id FROM studbook.directory ORDER BY team_id LIMIT 2

-- name: server_version
SELECT current_setting('server_version_num')::integer

-- name: lock_schema
SELECT pg_advisory_lock(hashtextextended('studbook.migration', 0))

-- name: create_ledgers
CREATE SCHEMA IF NOT EXISTS studbook;
CREATE TABLE IF NOT EXISTS studbook.migration (
    number     integer PRIMARY KEY,
    name       text NOT NULL,
    sha256     bytea NOT NULL,
    applied_at timestamptz NOT NULL DEFAULT clock_timestamp()
);
CREATE TABLE IF NOT EXISTS studbook.applied_parts (
    serving_role text PRIMARY KEY,
    sha256       bytea NOT NULL,
    applied_at   timestamptz NOT NULL DEFAULT clock_timestamp()
);

-- name: has_ledger
SELECT to_regclass('studbook.migration') IS NOT NULL

-- name: ledger
SELECT number, name, sha256 FROM studbook.migration ORDER BY number

-- name: enter_migration
INSERT INTO studbook.migration (number, name, sha256) VALUES ($1, $2, $3)

-- name: lock_writes
LOCK TABLE studbook.book IN EXCLUSIVE MODE

-- name: has_parts
SELECT has_schema_privilege($1, 'studbook', 'USAGE')
       AND EXISTS (SELECT FROM studbook.applied_parts WHERE serving_role = $1 AND sha256 = $2)

-- name: newest_parts
SELECT sha256 FROM studbook.applied_parts ORDER BY applied_at DESC LIMIT 1

-- name: enter_parts
INSERT INTO studbook.applied_parts (serving_role, sha256) VALUES ($1, $2)
ON CONFLICT (serving_role) DO UPDATE SET sha256 = excluded.sha256, applied_at = excluded.applied_at

-- name: database_exists
SELECT EXISTS (SELECT FROM pg_database WHERE datname = $1)

-- name: role_exists
SELECT EXISTS (SELECT FROM pg_roles WHERE rolname = $1)

-- name: quoted
SELECT quote_ident($1)

-- name: own_role
SELECT rolname AS name, rolsuper OR rolbypassrls AS bypasses FROM pg_roles WHERE rolname = current_user

-- name: owned_table
SELECT c.relname FROM pg_class c
 WHERE c.relnamespace = to_regnamespace('studbook') AND c.relkind IN ('r', 'p') AND pg_has_role(c.relowner, 'MEMBER')
 ORDER BY c.relname LIMIT 1
