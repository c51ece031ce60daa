"""Phones that were let in: a secret that is used once, and what is remembered of each phone."""

import hashlib
import hmac
import json
import secrets
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path

from sizing.base.files import write_whole

OFFER_S = 600.0
"""A secret is good for ten minutes: long enough to find the phone, too short to be found later."""
_LARGEST_BYTES = 100_000  # a phone takes 150
_MOST_PHONES = 50
_LATEST_S = 2.5e11  # seconds since 1970: in the year 9892, near the last that a date can have


@dataclass(frozen=True, slots=True, kw_only=True)
class Phone:
    """A phone that was let in.

    Attributes
    ----------
    number : int
        1, 2, 3 ... in the order of pairing.
    since_s : float
        When it was let in, seconds since 1970.
    mark : str
        SHA-256 of its cookie: who reads the file cannot come in with it.
    """

    number: int
    since_s: float
    mark: str


class Phones:
    """Lets phones in, knows them again, and forgets them.

    Parameters
    ----------
    file : Path
        Where they are remembered.
    clock : callable
        Seconds since 1970.
    """

    def __init__(self, file: Path, clock: Callable[[], float] = time.time) -> None:
        self._file = file
        self._clock = clock
        self._phones = _read(file)
        self._secret = ""
        self._offered_s = 0.0

    @property
    def all(self) -> tuple[Phone, ...]:
        """The phones that may come in, the oldest first."""
        return tuple(self._phones)

    def offer(self) -> str:
        """Return a new secret, which takes the place of one offered before."""
        self._secret, self._offered_s = secrets.token_urlsafe(24), self._clock()
        return self._secret

    def redeem(self, secret: str) -> str | None:
        """Take a secret, once, and return the cookie of a new phone; None for a wrong or late one.

        Raises
        ------
        OutputError
            The phone cannot be remembered.
        """
        offered, age_s = self._secret, self._clock() - self._offered_s
        if not offered or not 0 <= age_s <= OFFER_S or not _same(secret, offered):
            return None
        self._secret = ""
        token = secrets.token_urlsafe(32)
        number = max((phone.number for phone in self._phones), default=0) + 1
        phone = Phone(number=number, since_s=self._clock(), mark=_mark(token))
        self._write([*self._phones, phone][-_MOST_PHONES:])
        return token

    def knows(self, token: str) -> bool:
        """Return whether a cookie is that of a phone that was let in."""
        mark = _mark(token)
        return any(_same(mark, phone.mark) for phone in self._phones)

    def forget(self, number: int) -> None:
        """Let a phone in no more.

        Raises
        ------
        OutputError
        """
        self._write([phone for phone in self._phones if phone.number != number])

    def _write(self, phones: list[Phone]) -> None:
        self._phones = phones  # first of all: who is forgotten stays out even where the disk is full
        self._file.parent.mkdir(parents=True, exist_ok=True)
        write_whole(self._file, json.dumps([asdict(phone) for phone in phones], indent=1) + "\n")


def _read(file: Path) -> list[Phone]:
    """Return the phones that a file remembers; none where it is missing or damaged: they pair once more."""
    try:
        with file.open("rb") as stream:
            rows = json.loads(stream.read(_LARGEST_BYTES))
        return [phone for phone in (Phone(**row) for row in rows) if _is_sound(phone)]
    except (OSError, ValueError, TypeError, RecursionError):
        return []


def _is_sound(phone: Phone) -> bool:
    is_dated = type(phone.since_s) in {int, float} and 0 <= phone.since_s < _LATEST_S
    return is_dated and type(phone.number) is int and isinstance(phone.mark, str)


def _mark(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogateescape")).hexdigest()


def _same(one: str, other: str) -> bool:
    """Compare in a time that tells nothing."""
    return hmac.compare_digest(one.encode("utf-8", "replace"), other.encode())
