-- The tables as they stand, with their types and indexes. The numbered migrations make them; nothing runs this file but
-- the test that proves the two equal, so a migration that changes a table changes this file with it.
--
-- team_id leads every key and index. Text keys sort by byte (COLLATE "C"), so that a range over slugs means what it
-- says. Triggers are in triggers.sql, row-level security and grants in rights.sql.

-- Teams and their books.

CREATE TABLE studbook.team (
    team_id    uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    name       text NOT NULL,
    created_at timestamptz NOT NULL DEFAULT clock_timestamp()
);

-- One row per team. `seq` is the last sequence number given out; `chain` is the hash over all entries up to it; `book`
-- tells this team's book from any other. Every write locks this row first, so a team has one writer at a time.
-- `home` is NULL where members, roles, protection and shares are kept here; else it names the peer where they are.
CREATE TABLE studbook.book (
    team_id uuid PRIMARY KEY REFERENCES studbook.team,
    seq     bigint NOT NULL DEFAULT 0,
    chain   bytea NOT NULL DEFAULT decode(repeat('00', 32), 'hex') CHECK (octet_length(chain) = 32),
    book    bytea NOT NULL CHECK (octet_length(book) = 8),
    home    text COLLATE "C"
);

-- Access.

CREATE TABLE studbook.member (
    team_id  uuid NOT NULL REFERENCES studbook.team,
    id       text COLLATE "C" NOT NULL,
    name     text NOT NULL,
    role     text NOT NULL CHECK (role IN ('viewer', 'crew', 'chief', 'node')),
    ended_at timestamptz,
    erased   boolean NOT NULL DEFAULT false,
    PRIMARY KEY (team_id, id)
);

-- Only the SHA-256 of a token is kept. Tokens are revoked, never deleted. A node's token may allow revisions on
-- protected sheets (`protected`) and authors whom the team never had (`introduces`).
CREATE TABLE studbook.token (
    team_id    uuid NOT NULL,
    hash       bytea NOT NULL CHECK (octet_length(hash) = 32),
    member_id  text COLLATE "C" NOT NULL,
    role       text NOT NULL CHECK (role IN ('viewer', 'crew', 'chief', 'node')),
    label      text NOT NULL,
    created_at timestamptz NOT NULL DEFAULT clock_timestamp(),
    expires_at timestamptz,
    revoked_at timestamptz,
    protected  boolean NOT NULL DEFAULT false,
    introduces boolean NOT NULL DEFAULT false,
    PRIMARY KEY (team_id, hash),
    CONSTRAINT token_member FOREIGN KEY (team_id, member_id) REFERENCES studbook.member
);

-- What another team may see until a date: a line and everything below it.
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

-- Lines on which only a chief records. `by` is NULL where it was decided at home and not here.
CREATE TABLE studbook.protection (
    team_id uuid NOT NULL REFERENCES studbook.team,
    line    text COLLATE "C" NOT NULL,
    by      text COLLATE "C",
    at      timestamptz NOT NULL DEFAULT clock_timestamp(),
    PRIMARY KEY (team_id, line),
    CONSTRAINT protection_by FOREIGN KEY (team_id, by) REFERENCES studbook.member
);

-- The record of every change of access. A trigger numbers and chains the rows.
CREATE TABLE studbook.audit (
    team_id uuid NOT NULL REFERENCES studbook.team,
    seq     bigint NOT NULL,
    event   bytea NOT NULL,
    chain   bytea NOT NULL CHECK (octet_length(chain) = 32),
    PRIMARY KEY (team_id, seq)
);

-- The one table across teams: which team a token or share belongs to. Only its owner reads it; others call team_of().
CREATE TABLE studbook.directory (
    hash    bytea PRIMARY KEY,
    team_id uuid NOT NULL
);

-- Counts the changes of access and the erasures, of all teams together.
CREATE TABLE studbook.access_epoch (
    only_row boolean PRIMARY KEY DEFAULT true CHECK (only_row),
    epoch    bigint NOT NULL DEFAULT 0
);
INSERT INTO studbook.access_epoch DEFAULT VALUES;

-- The entries.

-- An erased entry keeps everything but its note and body.
CREATE TABLE studbook.entry (
    team_id      uuid NOT NULL REFERENCES studbook.team,
    seq          bigint NOT NULL,
    id           bytea NOT NULL CHECK (octet_length(id) = 32),
    kind         text COLLATE "C" NOT NULL,
    line         text COLLATE "C" NOT NULL,
    parents      bytea[] NOT NULL,
    generation   integer NOT NULL,
    content      bytea NOT NULL CHECK (octet_length(content) = 32),
    note         text,
    body         bytea,
    author       text COLLATE "C" NOT NULL,
    at_ms        bigint NOT NULL,
    received_at  timestamptz NOT NULL DEFAULT clock_timestamp(),
    via          text,
    carried_from bytea,
    chain        bytea NOT NULL CHECK (octet_length(chain) = 32),
    PRIMARY KEY (team_id, id),
    UNIQUE (team_id, seq)
);
CREATE INDEX entry_history ON studbook.entry (team_id, line, generation, id);

-- An entry ready to be recorded, as push() and append() take it.
CREATE TYPE studbook.new_entry AS (
    id bytea, kind text, line text, parents bytea[], content bytea, note text, body bytea,
    author text, at_ms bigint, carried_from bytea, via text
);

-- The newest entries of each line: one, or several where the line is split.
CREATE TABLE studbook.tip (
    team_id uuid NOT NULL,
    line    text COLLATE "C" NOT NULL,
    id      bytea NOT NULL,
    kind    text COLLATE "C" NOT NULL,
    PRIMARY KEY (team_id, line, id),
    FOREIGN KEY (team_id, id) REFERENCES studbook.entry
);
CREATE INDEX tip_kind ON studbook.tip (team_id, kind, line);

-- The keys of pushes already made. They are kept for good, so that a retry is recognized however late it comes.
CREATE TABLE studbook.idempotency (
    team_id     uuid NOT NULL,
    key         text COLLATE "C" NOT NULL,
    fingerprint bytea NOT NULL,
    id          bytea NOT NULL,
    at          timestamptz NOT NULL DEFAULT clock_timestamp(),
    PRIMARY KEY (team_id, key),
    FOREIGN KEY (team_id, id) REFERENCES studbook.entry
);

-- What was erased, and by which entry of kind `erasure`. It is kept by id, so an entry that comes again, from a node
-- that does not know of the erasure, is erased too. Only apply_erasure() writes here. The bytes themselves turn over in
-- backups, WAL and unvacuumed pages as those do.
CREATE TABLE studbook.erased (
    team_id uuid NOT NULL,
    id      bytea NOT NULL,
    by      bytea NOT NULL,
    PRIMARY KEY (team_id, id),
    FOREIGN KEY (team_id, by) REFERENCES studbook.entry
);

-- What the change of each revision does, as it was computed: one row for a revision, of the newest engine. An older
-- engine neither reads nor replaces it, so two may serve at once. It is no entry and travels nowhere.
CREATE TABLE studbook.effect (
    team_id uuid NOT NULL,
    id      bytea NOT NULL,
    engine  integer NOT NULL,
    answer  bytea NOT NULL,
    PRIMARY KEY (team_id, id),
    FOREIGN KEY (team_id, id) REFERENCES studbook.entry
);

-- Other nodes of the same book.

-- `state` tells how far each book knows the other. It changes in the same transaction as the entries it is about.
-- `version` counts its changes, so that two exchanges with one peer at a time notice each other.
CREATE TABLE studbook.peer (
    team_id uuid NOT NULL REFERENCES studbook.team,
    name    text COLLATE "C" NOT NULL,
    url     text NOT NULL,
    version bigint NOT NULL,
    state   bytea NOT NULL,
    PRIMARY KEY (team_id, name)
);

-- A member as the home node gives it, as take_home() takes it.
CREATE TYPE studbook.home_member AS (id text, name text, role text, ended boolean, erased boolean);
