-- Reading, one round trip each: name the team, then select. PL/pgSQL keeps the plans from call to call.

CREATE VIEW studbook.reading WITH (security_invoker = true) AS
SELECT e.team_id, e.id, e.seq, e.kind, e.line, e.parents, e.generation, e.content, e.note, e.author,
       m.name AS author_name, e.at_ms, e.received_at, e.carried_from, e.via, e.body
  FROM studbook.entry e
  LEFT JOIN studbook.member m ON m.team_id = e.team_id AND m.id = e.author;

CREATE FUNCTION studbook.get(p_team uuid, p_id bytea) RETURNS SETOF studbook.reading
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY SELECT r.* FROM studbook.reading r WHERE r.team_id = p_team AND r.id = p_id;
END
$$;

-- The hottest read: nothing but what never changes, no join and no set.
CREATE FUNCTION studbook.document(p_team uuid, p_id bytea, OUT content bytea, OUT body bytea)
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    SELECT e.content, e.body INTO document.content, document.body
      FROM studbook.entry e WHERE e.team_id = p_team AND e.id = p_id;
END
$$;

CREATE FUNCTION studbook.tips(p_team uuid, p_line text) RETURNS SETOF studbook.reading
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT r.* FROM studbook.tip t JOIN studbook.reading r ON r.team_id = t.team_id AND r.id = t.id
     WHERE t.team_id = p_team AND t.line = p_line ORDER BY t.id;
END
$$;

-- Slugs are ASCII below DEL, so prefix || DEL is above every line that starts with the prefix.
CREATE FUNCTION studbook.heads(p_team uuid, p_prefix text, p_kind text) RETURNS SETOF studbook.reading
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT r.* FROM studbook.tip t JOIN studbook.reading r ON r.team_id = t.team_id AND r.id = t.id
     WHERE t.team_id = p_team AND t.kind = p_kind AND t.line >= p_prefix AND t.line < p_prefix || chr(127)
     ORDER BY t.line, t.id;
END
$$;

CREATE FUNCTION studbook.find(p_team uuid, p_first bytea, p_last bytea, p_limit integer) RETURNS SETOF bytea
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT e.id FROM studbook.entry e
     WHERE e.team_id = p_team AND e.id BETWEEN p_first AND p_last ORDER BY e.id LIMIT p_limit;
END
$$;

CREATE FUNCTION studbook.history(p_team uuid, p_line text, p_generation integer, p_id bytea, p_limit integer)
RETURNS SETOF studbook.reading
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY
    SELECT r.* FROM studbook.reading r
     WHERE r.team_id = p_team AND r.line = p_line AND (r.generation, r.id) < (p_generation, p_id)
     ORDER BY r.generation DESC, r.id DESC LIMIT p_limit;
END
$$;

CREATE FUNCTION studbook.ancestors(p_team uuid, p_id bytea, p_limit integer) RETURNS SETOF studbook.reading
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
    SELECT r.* FROM back JOIN studbook.reading r ON r.team_id = p_team AND r.id = back.id ORDER BY back.depth;
END
$$;

CREATE FUNCTION studbook.team_head(p_team uuid) RETURNS SETOF studbook.book
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM set_config('studbook.team', p_team::text, true);
    RETURN QUERY SELECT b.* FROM studbook.book b WHERE b.team_id = p_team;
END
$$;
