-- The book in the order it was written, some kinds of it, as it stood at one moment.

-- current: no entry up to p_until followed it. Without kinds: of every kind. The body is empty where it is not wanted.
CREATE FUNCTION studbook.export_page(
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
           NOT EXISTS (SELECT FROM studbook.entry c
                        WHERE c.team_id = p_team AND c.line = r.line AND c.generation > r.generation
                          AND c.seq <= p_until AND r.id = ANY (c.parents))
      FROM studbook.reading r
     WHERE r.team_id = p_team AND r.seq > p_after AND r.seq <= p_until AND (p_kinds IS NULL OR r.kind = ANY (p_kinds))
     ORDER BY r.seq LIMIT p_limit;
END
$$;
