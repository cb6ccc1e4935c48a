"""The race night as arithmetic over records: what cannot have been, and where each part was. Pure."""
