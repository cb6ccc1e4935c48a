-- Records beside setups: read a page of lines at a time.

-- The tips of the next lines of one kind under a prefix, after one: whole lines, however split.
CREATE FUNCTION studbook.head_page(p_team uuid, p_prefix text, p_kind text, p_after text, p_lines integer)
RETURNS SETOF studbook.reading
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
      JOIN studbook.reading r ON r.team_id = t.team_id AND r.id = t.id
     ORDER BY t.line, t.id;
END
$$;
