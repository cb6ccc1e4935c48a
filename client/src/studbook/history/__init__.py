"""The algebra of the book: canonical bytes, ids, leaves, changes. Pure: no I/O, no schema, no framework."""
