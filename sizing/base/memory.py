"""Tells the errors that mean that memory ran out, whichever library raised them."""

_SIGNS = (
    "Insufficient memory",
    "Failed to allocate memory",
    "bad_alloc",
    "bad allocation",
    "failed to map segment",
    "Cannot allocate memory",
    "can't start new thread",
)
"""What OpenCV, ONNX Runtime, a loader of libraries and the start of a thread say when memory runs out."""


def is_memory_error(error: Exception) -> bool:
    """Return whether an error means that memory ran out, whichever library raised it.

    Examples
    --------
    >>> is_memory_error(MemoryError()), is_memory_error(RuntimeError("std::bad_alloc"))
    (True, True)
    >>> is_memory_error(RuntimeError("no such layer"))
    False
    """
    return isinstance(error, MemoryError) or any(sign in str(error) for sign in _SIGNS)
