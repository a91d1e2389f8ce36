"""Text of a stranger's file as it may be shown: short, and without signs that steer a terminal."""

import unicodedata

SHOWN_LENGTH = 80
"""Ours: enough to recognise a cell by; a cell may hold a megabyte."""

ERROR_LENGTH = 400
"""Ours: a library's sentence, which names columns."""


def shown(text: str, length: int = SHOWN_LENGTH) -> str:
    """Return text cut to a length, its control signs written out as hexadecimal numbers.

    Control and direction signs, halves of characters and line ends are written out; they could
    rewrite what stands before them on a terminal or in a page.
    """
    cut = text if len(text) <= length else f"{text[:length]}…"
    if cut.isascii() and cut.isprintable():
        return cut
    return "".join(_written_out(sign) for sign in cut)


def _written_out(sign: str) -> str:
    if unicodedata.category(sign) in ("Cc", "Cf", "Cs", "Zl", "Zp"):
        return (
            sign.encode("ascii", "backslashreplace").decode()
            if ord(sign) > 255
            else (f"\\x{ord(sign):02x}")
        )
    return sign


def shown_error(text: str) -> str:
    """Return what a library says of a file, which may repeat what stands in it."""
    return shown(text, ERROR_LENGTH)
