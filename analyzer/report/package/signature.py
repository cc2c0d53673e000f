"""A detached Ed25519 signature (RFC 8032) over the tag manifest, which lists everything else by its checksum."""

from __future__ import annotations

import base64
from collections.abc import Callable
from pathlib import Path
from typing import Any

from analyzer.errors import OptionError

_MISSING = "signing needs the package cryptography: pip install 'cableproof[sign]'"


def signer(key: Path) -> Callable[[bytes], bytes]:
    """A function that signs bytes with the private key in `key`.

    Raises:
        OptionError: the file cannot be read, is locked, or holds no Ed25519 key.
    """
    private = _loaded(key, private=True)
    return lambda content: base64.b64encode(private.sign(content)) + b"\n"


def is_signed_by(content: bytes, signature: bytes, key: Path) -> bool:
    """Whether the public (or private) key in `key` signed `content`.

    Raises:
        OptionError: the file cannot be read or holds no Ed25519 key.
    """
    from cryptography.exceptions import InvalidSignature

    public = _loaded(key, private=False)
    try:
        public.verify(base64.b64decode(signature, validate=False), content)
    except (InvalidSignature, ValueError):
        return False
    return True


def _loaded(path: Path, *, private: bool) -> Any:
    try:
        from cryptography.hazmat.primitives import serialization
        from cryptography.hazmat.primitives.asymmetric import ed25519
    except ImportError:
        raise OptionError(_MISSING) from None
    what = "private" if private else "public"
    try:
        content = path.read_bytes()
    except OSError as error:
        raise OptionError(
            f"{path}: the key cannot be read ({error.strerror}); name a {what} Ed25519 key in PEM"
        ) from None
    try:
        if private or b"PRIVATE" in content:
            key: Any = serialization.load_pem_private_key(content, password=None)
            key = key if private or not isinstance(key, ed25519.Ed25519PrivateKey) else key.public_key()
        else:
            key = serialization.load_pem_public_key(content)
    except TypeError:
        raise OptionError(
            f"{path}: the key is locked by a password; write it without one: openssl pkey -in {path.name}"
        ) from None
    except ValueError:
        key = None
    if not isinstance(key, ed25519.Ed25519PrivateKey if private else ed25519.Ed25519PublicKey):
        raise OptionError(f"{path}: holds no {what} Ed25519 key in PEM; make one: openssl genpkey -algorithm ed25519")
    return key
