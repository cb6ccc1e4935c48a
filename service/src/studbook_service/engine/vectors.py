"""Vectors with the components first: shape (3, *batch), so that x, y and z are whole contiguous arrays."""

from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[Any]
"""A float64 array, or complex128 while a derivative is taken by the complex step."""

COMPLEX_STEP = 1e-30
"""So small that its square is lost: the imaginary part is the derivative, exact to rounding."""


def numbers(values: npt.ArrayLike) -> Array:
    """An inexact array of `values`: integers become float64, complex numbers stay complex.

    >>> numbers([1, 2]).dtype.name
    'float64'
    """
    array = np.asarray(values)
    return array if array.dtype.kind in "fc" else array.astype(np.float64)


def lift(array: Array, rank: int, *, lead: int = 1) -> Array:
    """`array`, whose first `lead` axes are no batch, with leading length-1 batch axes, so that it has `rank` of them.

    >>> lift(np.zeros((3, 5)), 2).shape
    (3, 1, 5)
    """
    missing = rank + lead - array.ndim
    return array if missing <= 0 else array.reshape(array.shape[:lead] + (1,) * missing + array.shape[lead:])


def dot(a: Array, b: Array) -> Array:
    """Scalar product over the first axis.

    >>> float(dot(numbers([1, 2, 3]), numbers([4, 5, 6])))
    32.0
    """
    product = a * b
    total: Array = product[0] + product[1] + product[2]
    return total


def cross(a: Array, b: Array) -> Array:
    """Vector product over the first axis, a × b.

    >>> cross(numbers([1, 0, 0]), numbers([0, 1, 0])).tolist()
    [0.0, 0.0, 1.0]
    """
    ax, ay, az = a
    bx, by, bz = b
    x = ay * bz - az * by
    product = np.empty((3, *x.shape), x.dtype)
    product[0] = x
    product[1] = az * bx - ax * bz
    product[2] = ax * by - ay * bx
    return product


def root(square: Array) -> Array:
    """Square root that is NaN where the (real part of the) square is negative, also for complex numbers.

    >>> with np.errstate(invalid="ignore"):
    ...     root(numbers([4.0, -1.0])).tolist()
    [2.0, nan]
    """
    if square.dtype.kind == "c":
        square = np.where(square.real < 0, np.nan, square)
    result: Array = np.sqrt(square)
    return result


def unit(vector: Array) -> Array:
    """`vector` over its length; NaN where it has none.

    >>> unit(numbers([0, 3, 4])).tolist()
    [0.0, 0.6, 0.8]
    """
    result: Array = vector / root(dot(vector, vector))
    return result
