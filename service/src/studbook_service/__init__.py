"""The Studbook service."""
