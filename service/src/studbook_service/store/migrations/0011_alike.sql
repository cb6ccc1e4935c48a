-- What was entered alike on two nodes is one: of tips with one document the first by id is current, on every node.

-- current: no entry up to p_until followed it, and no other tip of then with the same document comes before it by id.
-- Without kinds: of every kind. The body is empty where it is not wanted.
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
      FROM studbook.reading r
     WHERE r.team_id = p_team AND r.seq > p_after AND r.seq <= p_until AND (p_kinds IS NULL OR r.kind = ANY (p_kinds))
     ORDER BY r.seq LIMIT p_limit;
END
$$;
