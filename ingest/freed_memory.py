"""Freed memory is kept for the next array, where the C library can be told to."""

import ctypes

_KEPT_BYTES, _LARGE_BYTES = 256 * 2**20, 32 * 2**20
_M_TRIM_THRESHOLD, _M_MMAP_THRESHOLD = -1, -3  # of mallopt(3), GNU C library; 32 MB is its most


def keep_freed_memory() -> None:
    """Use freed memory again, in this process: to give it back and ask anew takes time.

    A tenth of measuring, and as much of looking logs through.
    """
    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (AttributeError, OSError, TypeError):  # another C library, or system
        return
    mallopt(_M_TRIM_THRESHOLD, _KEPT_BYTES)
    mallopt(_M_MMAP_THRESHOLD, _LARGE_BYTES)
