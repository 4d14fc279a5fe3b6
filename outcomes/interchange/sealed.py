"""Sealed items: JSON Web Encryption (RFC 7516), agreed by ECDH-ES on P-256, A256GCM (RFC 7518).

A tablet seals what was typed to the clinic's public key; from then on only the server reads it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from joserfc import jwe
from joserfc.errors import JoseError
from joserfc.jwk import ECKey

ALGORITHMS: Final = ["ECDH-ES", "A256GCM"]
_ORDER: Final = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551
"""The order of P-256's base point (SEC 2, section 2.4.2)."""


class NotOpened(ValueError):
    """It was not sealed to any of these keys, or not by this method."""


def key_from(secret: str) -> ECKey:
    """The private key that belongs to a secret: the same secret always gives the same key.

    HKDF-SHA256 (RFC 5869) with 16 bytes more than the order is long, so that no key is likelier.
    """
    kdf = HKDF(algorithm=SHA256(), length=48, salt=None, info=b"kneeledger outbox P-256")
    number = int.from_bytes(kdf.derive(secret.encode())) % (_ORDER - 1) + 1
    return ECKey.import_key(ec.derive_private_key(number, ec.SECP256R1()))


def public_of(key: ECKey) -> dict[str, str]:
    """The public half as a JSON Web Key (RFC 7517), named by its thumbprint (RFC 7638)."""
    found = key.as_dict(private=False)
    return {name: str(found[name]) for name in ("kty", "crv", "x", "y")} | {"kid": key.thumbprint()}


def sealed(text: str, *, to: Mapping[str, str]) -> str:
    """What a page does without network (static/js/seal.js): seal a text to a public key.

    >>> key = key_from("a secret")
    >>> opened(sealed("134", to=public_of(key)), keys=[key])
    b'134'
    """
    head: dict[str, Any] = {**dict(zip(("alg", "enc"), ALGORITHMS, strict=True)), "kid": to["kid"]}
    return jwe.encrypt_compact(head, text, ECKey.import_key({**to}))


def opened(text: str, *, keys: Sequence[ECKey]) -> bytes:
    """What was sealed to one of the keys. Raises ``NotOpened``."""
    for key in keys:
        try:
            found = jwe.decrypt_compact(text, key, algorithms=ALGORITHMS).plaintext
        except (JoseError, ValueError, TypeError, KeyError):
            continue
        if found is not None:
            return found
    raise NotOpened("sealed to another key, or damaged on its way")
