"""PINs typed without a net: sealed as a browser does it, and opened once.

RSA-OAEP of RFC 8017, section 7.1, with SHA-256: what WebCrypto calls RSA-OAEP.
"""

import base64
import json
from datetime import datetime
from uuid import uuid4

import pytest
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import padding, rsa
from cryptography.hazmat.primitives.serialization import load_der_public_key

from moldcare.feeds.archive.tables import archive_tables
from moldcare.handin.models import SealingKey
from moldcare.handin.passes import bearer_of, give_pass
from moldcare.handin.sealing import SealBroken, open_seal, sealing_key
from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.django_db


def sealed(key: SealingKey, secret: str, *, hand_in: str) -> str:
    """Seal something as the page does."""
    public = load_der_public_key(base64.b64decode(key.public))
    assert isinstance(public, rsa.RSAPublicKey)
    oaep = padding.OAEP(mgf=padding.MGF1(hashes.SHA256()), algorithm=hashes.SHA256(), label=None)
    plain = json.dumps({"id": hand_in, "secret": secret}).encode()
    return f"{key.pk}:{base64.b64encode(public.encrypt(plain, oaep)).decode()}"


def test_a_seal_opens_for_its_own_entry_and_no_other(now: datetime) -> None:
    key, mine = sealing_key(now=now), str(uuid4())
    text = sealed(key, "4711", hand_in=mine)
    assert open_seal(text, hand_in=mine) == "4711"
    with pytest.raises(SealBroken):
        open_seal(text, hand_in=str(uuid4()))
    for nonsense in ("", "1:", "x:y", "999:AAAA", f"{key.pk}:%%%", text[:-8], "1" * 2000):
        with pytest.raises(SealBroken):
            open_seal(nonsense, hand_in=mine)


def test_the_key_is_made_once_and_is_nothing_without_the_servers_secret(
    now: datetime, settings: object
) -> None:
    key, mine = sealing_key(now=now), str(uuid4())
    assert sealing_key(now=now) == key
    text = sealed(key, "4711", hand_in=mine)
    settings.SECRET_KEY = "another server's key, which opens nothing of the first one's"  # type: ignore[attr-defined]
    with pytest.raises(SealBroken):
        open_seal(text, hand_in=mine)
    # that server makes one of its own, and works
    other = sealing_key(now=now)
    assert other != key
    assert open_seal(sealed(other, "1", hand_in=mine), hand_in=mine) == "1"


def test_no_archive_takes_the_keys_along() -> None:
    assert SealingKey not in {table.model for table in archive_tables()}


def test_a_pass_is_good_on_its_tablet_and_ends_with_the_pin(technician: Person) -> None:
    text = give_pass(technician, device="one")
    bearer = bearer_of(text, device="one")
    assert bearer is not None
    assert (bearer.person, bearer.is_good) == (technician, True)
    assert bearer_of(text, device="two") is None
    assert bearer_of(text, device="") is None
    assert bearer_of(text[:-1] + "x", device="one") is None
    technician.pin_hash = factories.person(pin="1").pin_hash
    technician.save()
    bearer = bearer_of(text, device="one")
    assert bearer is not None
    assert not bearer.is_good
