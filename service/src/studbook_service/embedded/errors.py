"""The launcher's one error; its text says what to do."""


class EmbeddedError(Exception):
    """The embedded PostgreSQL cannot run here."""
