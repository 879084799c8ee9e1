"""Who signs, and what an order is for."""

from django.utils.translation import gettext as _

from moldcare.acts import refresh
from moldcare.acts.doing import Doing
from moldcare.acts.errors import NotAllowed, NotFound
from moldcare.acts.rights import Right, require
from moldcare.acts.sign_in import check_person_pin
from moldcare.molds.models import Auxiliary, Mold
from moldcare.plant.models import Person
from moldcare.work.models import Order


def identify(doing: Doing, *, signer: Person, pin: str, device: str, right: Right) -> None:
    """Raise unless the signer has the right and is who signs: by PIN, or by being signed in.

    Call it outside a transaction: a wrong PIN stays counted when nothing is written.

    Raises
    ------
    NotAllowed
        If the role does not do this, or somebody else would sign without a PIN.
    SignInRefused, TooManyTries
        If the PIN is wrong, or was too often.
    """
    require(signer, right)
    if pin:
        check_person_pin(signer, pin=pin, device=device, now=doing.now)
    elif signer.pk != doing.person.pk:
        raise NotAllowed(_("%(name)s signs with a PIN.") % {"name": signer.name})


def subject_of(order: Order) -> Mold | Auxiliary:
    """Return what the order is for."""
    subject = order.mold or order.auxiliary
    if subject is None:
        raise NotFound(_("The order is for nothing that is there."))
    return subject


def refresh_subject(order: Order) -> None:
    """Derive again what the order is for."""
    if order.mold_id is not None:
        refresh.refresh_care(molds=[order.mold_id])
    elif order.auxiliary_id is not None:
        refresh.refresh_care(auxiliaries=[order.auxiliary_id])
