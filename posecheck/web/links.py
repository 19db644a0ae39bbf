"""Who may open what on the pitch's network: one link for each player, a passphrase for the coach.

All of it is kept in ``sharing.json`` in the output folder, for its owner alone to read: the key
that links are signed with, which links there are, and the passphrase as a salted scrypt hash,
never itself. A link is signed and dated (itsdangerous), runs out after ``LINK_DAYS``, and can be
revoked: then it is struck off the list and opens nothing, whatever its signature.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
import threading
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from itsdangerous import BadData, URLSafeTimedSerializer

from posecheck.errors import RecordError, UsageError
from posecheck.files.whole_file import whole_file
from posecheck.web.tuning import (
    LEAST_PASSPHRASE,
    LINK_DAYS,
    SCRYPT_BLOCK,
    SCRYPT_COST,
    SCRYPT_LANES,
)

SHARING_FILE = "sharing.json"

_DAY_S = 86_400
"""Source: definition"""


@dataclass(frozen=True)
class Passphrase:
    """A passphrase as it is kept: salt and scrypt hash, both hexadecimal."""

    salt: str
    hashed: str

    @classmethod
    def of(cls, words: str) -> Passphrase:
        """Hash a new one.

        Raises:
            UsageError: it is too short.
        """
        if len(words) < LEAST_PASSPHRASE:
            raise UsageError(
                f"The passphrase has {len(words)} characters; take {LEAST_PASSPHRASE} or more, "
                "such as four words."
            )
        salt = secrets.token_bytes(16)
        return cls(salt.hex(), _scrypt(words, salt).hex())

    def fits(self, words: str) -> bool:
        """True for the passphrase that was hashed; takes as long for any other."""
        tried = _scrypt(words, bytes.fromhex(self.salt))
        return hmac.compare_digest(tried, bytes.fromhex(self.hashed))


@dataclass
class Links:
    """Links and passphrase of one output folder, written at every change.

    Attributes:
        path: the file.
        key: that links are signed with.
        passphrase: None as long as none was set.
        numbers: by the id in a link, the number of the player whose file it opens. A link that is
            not here opens nothing.
    """

    path: Path
    key: str
    passphrase: Passphrase | None = None
    numbers: dict[str, int] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock, repr=False)

    @classmethod
    def read(cls, folder: Path) -> Links:
        """Those of an output folder; new ones where there are none.

        Raises:
            RecordError: the file cannot be read.
        """
        path = folder / SHARING_FILE
        if not path.exists():
            return cls(path, secrets.token_hex(32))
        try:
            kept = json.loads(path.read_text("utf-8"))
            said = kept["passphrase"]
            numbers = {str(link): int(number) for link, number in kept["numbers"].items()}
            passphrase = None if said is None else Passphrase(**said)
            return cls(path, str(kept["key"]), passphrase, numbers)
        except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
            raise RecordError(
                f"{path}: it is damaged or cannot be read; delete it, which revokes every link, "
                "and share again."
            ) from error

    def set_passphrase(self, words: str) -> None:
        """Take a new passphrase in place of any earlier one.

        Raises:
            UsageError: it is too short.
            RecordError: it cannot be kept.
        """
        self.passphrase = Passphrase.of(words)
        self._write()

    def renew(self, number: int) -> str:
        """A new link for a player; his earlier one opens nothing from now on.

        Raises:
            RecordError: it cannot be kept.
        """
        with self._lock:
            self._forget(number)
            link = secrets.token_hex(16)
            self.numbers[link] = number
            self._write()
        return self._signer().dumps(link)

    def revoke(self, number: int) -> None:
        """A player's link opens nothing from now on.

        Raises:
            RecordError: that cannot be kept.
        """
        with self._lock:
            self._forget(number)
            self._write()

    def opens(self, token: str) -> int | None:
        """The number of the player whose file a link opens, None when it opens nothing."""
        try:
            link = self._signer().loads(token, max_age=LINK_DAYS * _DAY_S)
        except BadData:
            return None
        return self.numbers.get(link) if isinstance(link, str) else None

    def shared(self) -> frozenset[int]:
        """Numbers of the players who have a link that was not revoked."""
        return frozenset(self.numbers.values())

    def _forget(self, number: int) -> None:
        self.numbers = {link: other for link, other in self.numbers.items() if other != number}

    def _signer(self) -> URLSafeTimedSerializer:
        return URLSafeTimedSerializer(
            self.key, salt="player", signer_kwargs={"digest_method": hashlib.sha256}
        )

    def _write(self) -> None:
        kept: dict[str, Any] = {
            "key": self.key,
            "passphrase": None if self.passphrase is None else asdict(self.passphrase),
            "numbers": self.numbers,
        }
        with whole_file(self.path) as part:
            part.touch(mode=0o600)
            part.write_text(json.dumps(kept), "utf-8")


def _scrypt(words: str, salt: bytes) -> bytes:
    return hashlib.scrypt(
        words.encode(),
        salt=salt,
        n=SCRYPT_COST,
        r=SCRYPT_BLOCK,
        p=SCRYPT_LANES,
        maxmem=2 * 128 * SCRYPT_COST * SCRYPT_BLOCK,
    )
