"""Read a value that an answer may leave out, in a test that expects it."""

from typing import TypeVar

from msgspec import UnsetType

T = TypeVar("T")


def present(value: T | UnsetType) -> T:
    """Give the value, or fail the test where the answer left it out.

    Example:
        >>> present(0.5)
        0.5
    """
    assert not isinstance(value, UnsetType), "the answer leaves this value out"
    return value
