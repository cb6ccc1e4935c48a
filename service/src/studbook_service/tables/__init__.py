"""The book as tables: pure functions from entries to rows."""
