"""Fits what somebody else wrote, as a file name or a value, into one line on a screen."""

import re
import unicodedata

# Control characters, halves of a character pair (bytes of a file name that are no text), line and paragraph
# separators: they break a line, move the cursor or cannot be written as UTF-8.
_UNPRINTABLE = {"Cc", "Cs", "Zl", "Zp"}
# These turn the direction of what follows (Unicode Standard Annex 9), so that a line reads as another.
_TURNING = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_LONGEST_WORD = 200  # letters; a path of a few folders still stands whole
_LONGEST_LINE = 1500  # letters; the complaint about ten photos still stands whole


def printable(text: str) -> str:
    r"""Return a text with everything that would break a line or a screen written as an escape.

    Examples
    --------
    >>> printable("two\nlines \x1b[31m"), printable("7½ in, 珠")
    ('two\\nlines \\x1b[31m', '7½ in, 珠')
    """
    return "".join(repr(letter)[1:-1] if _breaks_a_line(letter) else letter for letter in text)


def one_line(message: str) -> str:
    r"""Return a message as one printable line; what is too long in it is cut in the middle.

    Examples
    --------
    >>> one_line("a\nb: no such file")
    'a\\nb: no such file'
    >>> len(one_line("x" * 5000 + ": no such file"))
    212
    """
    words = re.split("( +)", printable(message).strip())
    return _shortened("".join(_shortened(word, _LONGEST_WORD) for word in words), _LONGEST_LINE)


def _breaks_a_line(letter: str) -> bool:
    return letter in _TURNING or unicodedata.category(letter) in _UNPRINTABLE


def _shortened(text: str, most: int) -> str:
    """Cut a text in the middle: what it is about stands in front, what to do at the end."""
    if len(text) <= most:
        return text
    half = (most - 3) // 2
    return f"{text[:half]}...{text[-half:]}"
