-- An outing without a time of its own ran before it was first entered; a correction makes it no later.

-- The times of the first entries of lines, by line; of several the earliest.
CREATE FUNCTION studbook.first_told(p_team uuid, p_lines text[])
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
