-- The tables at the beginning of 0.2. What each is for stands in ../schema/tables.sql.

CREATE TABLE studbook.team (
    team_id    uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    name       text NOT NULL,
    created_at timestamptz NOT NULL DEFAULT clock_timestamp()
);

CREATE TABLE studbook.book (
    team_id uuid PRIMARY KEY REFERENCES studbook.team,
    seq     bigint NOT NULL DEFAULT 0,
    chain   bytea NOT NULL DEFAULT decode(repeat('00', 32), 'hex') CHECK (octet_length(chain) = 32),
    book    bytea NOT NULL CHECK (octet_length(book) = 8),
    home    text COLLATE "C"
);

CREATE TABLE studbook.member (
    team_id  uuid NOT NULL REFERENCES studbook.team,
    id       text COLLATE "C" NOT NULL,
    name     text NOT NULL,
    role     text NOT NULL CHECK (role IN ('viewer', 'crew', 'chief', 'node')),
    ended_at timestamptz,
    erased   boolean NOT NULL DEFAULT false,
    PRIMARY KEY (team_id, id)
);

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
    event   bytea NOT NULL,
    chain   bytea NOT NULL CHECK (octet_length(chain) = 32),
    PRIMARY KEY (team_id, seq)
);

CREATE TABLE studbook.directory (
    hash    bytea PRIMARY KEY,
    team_id uuid NOT NULL
);

CREATE TABLE studbook.access_epoch (
    only_row boolean PRIMARY KEY DEFAULT true CHECK (only_row),
    epoch    bigint NOT NULL DEFAULT 0
);
INSERT INTO studbook.access_epoch DEFAULT VALUES;

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

CREATE TYPE studbook.new_entry AS (
    id bytea, kind text, line text, parents bytea[], content bytea, note text, body bytea,
    author text, at_ms bigint, carried_from bytea, via text
);

CREATE TABLE studbook.tip (
    team_id uuid NOT NULL,
    line    text COLLATE "C" NOT NULL,
    id      bytea NOT NULL,
    kind    text COLLATE "C" NOT NULL,
    PRIMARY KEY (team_id, line, id),
    FOREIGN KEY (team_id, id) REFERENCES studbook.entry
);
CREATE INDEX tip_kind ON studbook.tip (team_id, kind, line);

CREATE TABLE studbook.idempotency (
    team_id     uuid NOT NULL,
    key         text COLLATE "C" NOT NULL,
    fingerprint bytea NOT NULL,
    id          bytea NOT NULL,
    at          timestamptz NOT NULL DEFAULT clock_timestamp(),
    PRIMARY KEY (team_id, key),
    FOREIGN KEY (team_id, id) REFERENCES studbook.entry
);

CREATE TABLE studbook.erased (
    team_id uuid NOT NULL,
    id      bytea NOT NULL,
    by      bytea NOT NULL,
    PRIMARY KEY (team_id, id),
    FOREIGN KEY (team_id, by) REFERENCES studbook.entry
);

CREATE TABLE studbook.effect (
    team_id uuid NOT NULL,
    id      bytea NOT NULL,
    engine  integer NOT NULL,
    answer  bytea NOT NULL,
    PRIMARY KEY (team_id, id),
    FOREIGN KEY (team_id, id) REFERENCES studbook.entry
);

CREATE TABLE studbook.peer (
    team_id uuid NOT NULL REFERENCES studbook.team,
    name    text COLLATE "C" NOT NULL,
    url     text NOT NULL,
    version bigint NOT NULL,
    state   bytea NOT NULL,
    PRIMARY KEY (team_id, name)
);

CREATE TYPE studbook.home_member AS (id text, name text, role text, ended boolean, erased boolean);
