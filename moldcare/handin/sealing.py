"""PINs typed off line: sealed by the tablet to the server's public key, opened here once.

RSA-OAEP with SHA-256, the one way of sealing that browsers have built in. What is sealed names the
hand-in that it belongs to, so that it opens nothing else. The private part is stored encrypted by
a key made of the server's own secret key: whoever has only the database opens nothing.
"""

import base64
import binascii
import json
import secrets
from datetime import datetime

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import padding, rsa
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings

from moldcare.handin.models import SealingKey

KEY_BITS = 3072
_PADDING = padding.OAEP(mgf=padding.MGF1(hashes.SHA256()), algorithm=hashes.SHA256(), label=None)
_NONCE_BYTES = 12
LONGEST_SEAL = 1000


class SealBroken(Exception):
    """What was sealed cannot be opened: another key, another hand-in, or nonsense."""


def sealing_key(*, now: datetime) -> SealingKey:
    """Return the key that tablets seal to; made once, and anew when the secret key was changed."""
    newest = SealingKey.objects.last()
    if newest is not None and _private(newest) is not None:
        return newest
    private = rsa.generate_private_key(public_exponent=65537, key_size=KEY_BITS)
    public = private.public_key().public_bytes(
        serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    )
    plain = private.private_bytes(
        serialization.Encoding.DER,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    nonce = secrets.token_bytes(_NONCE_BYTES)
    return SealingKey.objects.create(
        public=base64.b64encode(public).decode(),
        private_encrypted=base64.b64encode(nonce + _cipher().encrypt(nonce, plain, None)).decode(),
        made_at=now,
    )


def open_seal(text: str, *, hand_in: str) -> str:
    """Return what was sealed for the hand-in: `KEY:BASE64`, of JSON with `id` and `secret`.

    Raises
    ------
    SealBroken
        If it cannot be opened, or was sealed for another hand-in.
    """
    number, _sign, sealed = text.partition(":")
    if len(text) > LONGEST_SEAL or not number.isascii() or not number.isdecimal():
        raise SealBroken
    row = SealingKey.objects.filter(pk=int(number[:15])).first()
    private = _private(row) if row is not None else None
    if private is None:
        raise SealBroken
    try:
        plain = json.loads(private.decrypt(base64.b64decode(sealed, validate=True), _PADDING))
    except (ValueError, binascii.Error) as error:
        raise SealBroken from error
    if not isinstance(plain, dict) or plain.get("id") != hand_in:
        raise SealBroken
    return str(plain.get("secret", ""))


def _private(row: SealingKey) -> rsa.RSAPrivateKey | None:
    kept = base64.b64decode(row.private_encrypted)
    try:
        plain = _cipher().decrypt(kept[:_NONCE_BYTES], kept[_NONCE_BYTES:], None)
    except InvalidTag:
        return None
    key = serialization.load_der_private_key(plain, password=None)
    return key if isinstance(key, rsa.RSAPrivateKey) else None


def _cipher() -> AESGCM:
    derived = HKDF(hashes.SHA256(), length=32, salt=None, info=b"moldcare sealing key")
    return AESGCM(derived.derive(settings.SECRET_KEY.encode()))
