"""Studbook: the client, the wire types and the command."""

import importlib
from typing import TYPE_CHECKING, Any, Final

from studbook.core.errors import (
    AddressError,
    AmbiguousError,
    BadDocumentError,
    BadFramesError,
    BadReferenceError,
    BadRequestError,
    BadTokenError,
    BusyError,
    CannotCloseError,
    CertificateError,
    ConflictsError,
    ConnectionFailedError,
    DeadlineError,
    ErasedError,
    ExistsError,
    FieldsMissingError,
    InternalError,
    KeyReusedError,
    LastChiefError,
    MediaTypeError,
    MethodNotAllowedError,
    NoPeersError,
    NotAcceptableError,
    NotAllowedError,
    NotFoundError,
    NotHomeError,
    OtherBookError,
    PeerFailedError,
    PreconditionMissingError,
    ProtectedError,
    RefusedError,
    SplitError,
    StaleError,
    StudbookError,
    TokenNeededError,
    TokenRefusedError,
    TooCostlyError,
    TooLargeError,
    TooManyError,
    TooSlowError,
    UnavailableError,
    UnchangedError,
    UnreadableAnswerError,
)

if TYPE_CHECKING:
    from studbook.asynchronous import AsyncStudbook
    from studbook.blocking import Studbook
    from studbook.core.pulled import Pulled

__all__ = [
    "AddressError",
    "AmbiguousError",
    "AsyncStudbook",
    "BadDocumentError",
    "BadFramesError",
    "BadReferenceError",
    "BadRequestError",
    "BadTokenError",
    "BusyError",
    "CannotCloseError",
    "CertificateError",
    "ConflictsError",
    "ConnectionFailedError",
    "DeadlineError",
    "ErasedError",
    "ExistsError",
    "FieldsMissingError",
    "InternalError",
    "KeyReusedError",
    "LastChiefError",
    "MediaTypeError",
    "MethodNotAllowedError",
    "NoPeersError",
    "NotAcceptableError",
    "NotAllowedError",
    "NotFoundError",
    "NotHomeError",
    "OtherBookError",
    "PeerFailedError",
    "PreconditionMissingError",
    "ProtectedError",
    "Pulled",
    "RefusedError",
    "SplitError",
    "StaleError",
    "Studbook",
    "StudbookError",
    "TokenNeededError",
    "TokenRefusedError",
    "TooCostlyError",
    "TooLargeError",
    "TooManyError",
    "TooSlowError",
    "UnavailableError",
    "UnchangedError",
    "UnreadableAnswerError",
]

_LATER: Final = {
    "AsyncStudbook": "studbook.asynchronous",
    "Pulled": "studbook.core.pulled",
    "Studbook": "studbook.blocking",
}
"""Imported on first use: the wire's Structs and asyncio cost more than all the rest."""


def __getattr__(name: str) -> Any:
    """Import one of the names that come later."""
    if name == "__version__":
        return importlib.import_module("importlib.metadata").version("studbook")
    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(_LATER[name]), name)
