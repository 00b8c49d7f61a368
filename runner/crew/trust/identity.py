"""A machine's own key, and its name in every crew: a hash of it."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from runner.errors import RunnerError

ID_BYTES = 16


def id_of(public: bytes) -> bytes:
    """The member id (16 bytes) that belongs to a public key."""
    return hashlib.sha256(b"runner crew member\0" + public).digest()[:ID_BYTES]


@dataclass(frozen=True, slots=True)
class Identity:
    """An Ed25519 key from its 32-byte ``seed``."""

    seed: bytes

    def _key(self) -> Any:
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

        return Ed25519PrivateKey.from_private_bytes(self.seed)

    @property
    def public(self) -> bytes:
        """The public key, 32 bytes."""
        found: bytes = self._key().public_key().public_bytes_raw()
        return found

    @property
    def id(self) -> bytes:
        """The member id, 16 bytes."""
        return id_of(self.public)

    def sign(self, data: bytes) -> bytes:
        """A signature, 64 bytes."""
        found: bytes = self._key().sign(data)
        return found


def signed(public: bytes, signature: bytes, data: bytes) -> bool:
    """Whether the owner of the public key signed this."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, data)
    except (InvalidSignature, ValueError):
        return False
    return True


def load_identity(path: Path) -> Identity:
    """The identity kept in a file that only its owner can read; made where there is none.

    RunnerError where the file is not one, or cannot be made.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        except FileExistsError:
            seed = path.read_bytes()
        else:
            seed = os.urandom(32)
            with os.fdopen(handle, "wb") as file:
                file.write(seed)
    except OSError as error:
        raise RunnerError(f"{path}: this machine's crew key cannot be kept ({error})") from error
    if len(seed) != 32:
        raise RunnerError(f"{path}: this is no crew key; remove the file and a new one is made")
    return Identity(seed)
