"""The season's report: what was run, what was changed, what came of it, as far as the numbers carry it. Pure."""
