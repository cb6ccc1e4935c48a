"""What the service says of itself."""

from studbook.wire.entries import Answer


class ServiceState(Answer):
    """What the service says of itself."""

    status: str
