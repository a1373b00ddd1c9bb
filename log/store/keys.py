"""The key with which this machine vouches for its cases: made on first use, kept where only its owner can read it.

Whoever holds the private part can rewrite a case and sign it anew. What cannot be rewritten are the fingerprints and
the public key that stand on every note and export already given away: `tamponade verify --head` checks against them.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

import platformdirs
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, PublicFormat

from log.basics.errors import StoreError
from log.store.chain import Head, to_sign
from log.store.files import private_folder


class Signer:
    """Signs heads."""

    def __init__(self, private: Ed25519PrivateKey) -> None:
        self._private = private
        self.public_key = private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw).hex()

    def head(self, case: str, facts: int, sha256: str) -> Head:
        """The signed head of a chain of this many facts whose last has this fingerprint."""
        signature = self._private.sign(to_sign(case, facts, sha256)).hex()
        return Head(case=case, facts=facts, sha256=sha256, public_key=self.public_key, signature=signature)


def key_path() -> Path:
    """Where the private key lies: TAMPONADE_KEY, or the user's data folder."""
    named = os.environ.get("TAMPONADE_KEY")
    return Path(named) if named else platformdirs.user_data_path("tamponade-log") / "signing-key"


def signer(path: Path | None = None) -> Signer:
    """The machine's key, made if there is none. Raises StoreError if it can be neither read nor made."""
    path = path or key_path()
    try:
        return Signer(_read(path) if path.exists() else _made(path))
    except ValueError:
        raise StoreError(
            f"{path}: not a signing key", "put the right file back, or move it away and a new key is made"
        ) from None
    except OSError as error:
        raise StoreError(f"{path}: {error.strerror or error}", "name another file in TAMPONADE_KEY") from None


def own_key() -> str:
    """The public key of this machine; "" where none was made yet. Raises StoreError if it cannot be read."""
    return signer().public_key if key_path().exists() else ""


def _read(path: Path) -> Ed25519PrivateKey:
    return Ed25519PrivateKey.from_private_bytes(bytes.fromhex(path.read_text(encoding="ascii").strip()))


def _made(path: Path) -> Ed25519PrivateKey:
    """Written whole under another name first: two programs that start at once end up with the same key."""
    private = Ed25519PrivateKey.generate()
    text = private.private_bytes(Encoding.Raw, PrivateFormat.Raw, NoEncryption()).hex()
    private_folder(path.parent)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")  # made with mode 0600
    draft = Path(name)
    try:
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(text + "\n")
            file.flush()
            os.fsync(file.fileno())
        with contextlib.suppress(FileExistsError):
            os.link(draft, path)
    finally:
        draft.unlink()
    return _read(path)
