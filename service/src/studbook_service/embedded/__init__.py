"""The embedded PostgreSQL: found, started, watched and stopped beside the service. Knows no driver and no tables."""

from studbook_service.embedded.binaries import Binaries, find_binaries
from studbook_service.embedded.cluster import DATABASE, OWNER, SERVING_ROLE, Cluster
from studbook_service.embedded.errors import EmbeddedError
from studbook_service.embedded.holding import held

__all__ = ["DATABASE", "OWNER", "SERVING_ROLE", "Binaries", "Cluster", "EmbeddedError", "find_binaries", "held"]
