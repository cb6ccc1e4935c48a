-- Reading a book. Each function is one round trip: it names the team, then selects. PL/pgSQL keeps the plans from call
-- to call. Row-level security goes by the setting `studbook.team`, which lasts one transaction.

-- An entry with its author's name. The body of an erased entry is read as empty; no recorded body is.
CREATE OR REPLACE VIEW studbook.entry_with_author WITH (security_invoker = true) AS
SELECT e.team_id, e.id, e.seq, e.kind, e.line, e.parents, e.generation, e.content, e.note, e.author,
       m.name AS author_name, e.at_ms, e.received_at, e.carried_from, e.via, coalesce(e.body, '') AS body,
       e.body IS NULL AS erased
  FROM studbook.entry e
  LEFT JOIN studbook.member m ON m.team_id = e.team_id AND m.id = e.author;

CREATE OR REPLACE FUNCTION studbook.get(p_team uuid, p_id bytea) RETURNS SETOF studbook.entry_with_author
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY SELECT r.* FROM studbook.entry_with_author r WHERE r.team_id = p_team AND r.id = p_id;
END
$$;

CREATE OR REPLACE FUNCTION studbook.several(p_team uuid, p_ids bytea[]) RETURNS SETOF studbook.entry_with_author
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY SELECT r.* FROM studbook.entry_with_author r WHERE r.team_id = p_team AND r.id = ANY (p_ids);
END
$$;

-- The read that is made most often: only what never changes, without a join and without a set.
CREATE OR REPLACE FUNCTION studbook.document(p_team uuid, p_id bytea, OUT content bytea, OUT body bytea)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    SELECT e.content, coalesce(e.body, '') INTO document.content, document.body
      FROM studbook.entry e WHERE e.team_id = p_team AND e.id = p_id;
END
$$;

CREATE OR REPLACE FUNCTION studbook.tips(p_team uuid, p_line text) RETURNS SETOF studbook.entry_with_author
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT r.* FROM studbook.tip t JOIN studbook.entry_with_author r ON r.team_id = t.team_id AND r.id = t.id
     WHERE t.team_id = p_team AND t.line = p_line ORDER BY t.id;
END
$$;

-- The tips of every line of one kind under a prefix. Slugs are ASCII below DEL, so prefix || DEL is above every line
-- that starts with the prefix.
CREATE OR REPLACE FUNCTION studbook.heads(p_team uuid, p_prefix text, p_kind text)
RETURNS SETOF studbook.entry_with_author
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT r.* FROM studbook.tip t JOIN studbook.entry_with_author r ON r.team_id = t.team_id AND r.id = t.id
     WHERE t.team_id = p_team AND t.kind = p_kind AND t.line >= p_prefix AND t.line < p_prefix || chr(127)
     ORDER BY t.line, t.id;
END
$$;

-- The tips of the next lines of one kind under a prefix, after one: whole lines, however split.
CREATE OR REPLACE FUNCTION studbook.head_page(p_team uuid, p_prefix text, p_kind text, p_after text, p_lines integer)
RETURNS SETOF studbook.entry_with_author
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT r.*
      FROM (SELECT DISTINCT t.line FROM studbook.tip t
             WHERE t.team_id = p_team AND t.kind = p_kind AND t.line >= p_prefix AND t.line < p_prefix || chr(127)
               AND t.line > p_after
             ORDER BY t.line LIMIT p_lines) l
      JOIN studbook.tip t ON t.team_id = p_team AND t.line = l.line AND t.kind = p_kind
      JOIN studbook.entry_with_author r ON r.team_id = t.team_id AND r.id = t.id
     ORDER BY t.line, t.id;
END
$$;

-- Ids between two others.
CREATE OR REPLACE FUNCTION studbook.find(p_team uuid, p_first bytea, p_last bytea, p_limit integer) RETURNS SETOF bytea
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT e.id FROM studbook.entry e
     WHERE e.team_id = p_team AND e.id BETWEEN p_first AND p_last ORDER BY e.id LIMIT p_limit;
END
$$;

-- A page of a line's entries, from the newest back.
CREATE OR REPLACE FUNCTION studbook.history(p_team uuid, p_line text, p_generation integer, p_id bytea, p_limit integer)
RETURNS SETOF studbook.entry_with_author
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT r.* FROM studbook.entry_with_author r
     WHERE r.team_id = p_team AND r.line = p_line AND (r.generation, r.id) < (p_generation, p_id)
     ORDER BY r.generation DESC, r.id DESC LIMIT p_limit;
END
$$;

-- An entry, its first parent, that one's first parent, and so on back.
CREATE OR REPLACE FUNCTION studbook.ancestors(p_team uuid, p_id bytea, p_limit integer)
RETURNS SETOF studbook.entry_with_author
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    WITH RECURSIVE back (depth, id) AS (
        SELECT 1, p_id
        UNION ALL
        SELECT back.depth + 1, e.parents[1]
          FROM back JOIN studbook.entry e ON e.team_id = p_team AND e.id = back.id
         WHERE cardinality(e.parents) > 0 AND back.depth < p_limit
    )
    SELECT r.* FROM back JOIN studbook.entry_with_author r ON r.team_id = p_team AND r.id = back.id ORDER BY back.depth;
END
$$;

-- When lines were begun: the times of their first entries, of several the earliest.
CREATE OR REPLACE FUNCTION studbook.first_recorded(p_team uuid, p_lines text[])
RETURNS TABLE (line text, at_ms bigint)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT e.line, min(e.at_ms) FROM studbook.entry e
     WHERE e.team_id = p_team AND e.line = ANY (p_lines) AND e.generation = 0
     GROUP BY e.line;
END
$$;

CREATE OR REPLACE FUNCTION studbook.team_head(p_team uuid) RETURNS SETOF studbook.book
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY SELECT b.* FROM studbook.book b WHERE b.team_id = p_team;
END
$$;

-- The entries of some kinds in the order in which they were written, as the book was when p_until was its last entry.
-- current: no entry up to p_until follows it, and no other tip of then with the same document has a smaller id. So of
-- what was entered alike on two nodes, every node takes the same entry as current.
-- p_kinds: NULL for every kind. The body is empty unless p_bodies.
CREATE OR REPLACE FUNCTION studbook.export_page(
    p_team uuid, p_kinds text[], p_bodies boolean, p_after bigint, p_until bigint, p_limit integer)
RETURNS TABLE (id bytea, seq bigint, kind text, line text, parents bytea[], generation integer, content bytea,
               note text, author text, author_name text, at_ms bigint, received_at timestamptz, carried_from bytea,
               via text, erased boolean, body bytea, current boolean)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT r.id, r.seq, r.kind, r.line, r.parents, r.generation, r.content, r.note, r.author, r.author_name, r.at_ms,
           r.received_at, r.carried_from, r.via, r.erased, CASE WHEN p_bodies THEN r.body ELSE '' END,
           CASE WHEN EXISTS (SELECT FROM studbook.entry c
                              WHERE c.team_id = p_team AND c.line = r.line AND c.generation > r.generation
                                AND c.seq <= p_until AND r.id = ANY (c.parents)) THEN false
                -- Other tips of then are tips still, or were followed since. OFFSET and CASE keep it in this order:
                -- few candidates, each looked up by its id, and documents compared before others of the line are read.
                ELSE NOT EXISTS (
                    SELECT FROM (SELECT t.id FROM studbook.tip t
                                  WHERE t.team_id = p_team AND t.line = r.line AND t.id < r.id
                                 UNION
                                 SELECT unnest(c.parents) FROM studbook.entry c
                                  WHERE c.team_id = p_team AND c.line = r.line AND c.seq > p_until) tip
                     CROSS JOIN LATERAL (SELECT e.generation, e.seq, e.body FROM studbook.entry e
                                          WHERE e.team_id = p_team AND e.id = tip.id OFFSET 0) o
                     WHERE CASE WHEN tip.id < r.id AND o.seq <= p_until AND o.body = r.body
                                THEN NOT EXISTS (SELECT FROM studbook.entry c
                                                  WHERE c.team_id = p_team AND c.line = r.line
                                                    AND c.generation > o.generation AND c.seq <= p_until
                                                    AND tip.id = ANY (c.parents))
                                ELSE false END) END
      FROM studbook.entry_with_author r
     WHERE r.team_id = p_team AND r.seq > p_after AND r.seq <= p_until AND (p_kinds IS NULL OR r.kind = ANY (p_kinds))
     ORDER BY r.seq LIMIT p_limit;
END
$$;

-- What is kept of the changes of revisions.

CREATE OR REPLACE FUNCTION studbook.effects(p_team uuid, p_ids bytea[], p_engine integer)
RETURNS TABLE (id bytea, answer bytea)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT f.id, f.answer FROM studbook.effect f
     WHERE f.team_id = p_team AND f.id = ANY (p_ids) AND f.engine = p_engine;
END
$$;

-- Revisions for which neither this engine nor a newer one has computed anything yet; the newest first.
CREATE OR REPLACE FUNCTION studbook.without_effects(p_team uuid, p_engine integer, p_limit integer) RETURNS SETOF bytea
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT e.id FROM studbook.entry e
     WHERE e.team_id = p_team AND e.kind = 'sheet' AND e.body IS NOT NULL AND cardinality(e.parents) > 0
       AND NOT EXISTS (SELECT FROM studbook.effect f
                        WHERE f.team_id = p_team AND f.id = e.id AND f.engine >= p_engine)
     ORDER BY e.seq DESC LIMIT p_limit;
END
$$;
