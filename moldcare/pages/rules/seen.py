"""Whether a rule is still as it was when somebody opened its form."""

from hashlib import sha256

from django.http import HttpRequest
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.handin.models import HandIn
from moldcare.pages.rules.forms import RuleForm


def seen_of(form: RuleForm) -> str:
    """Return a mark of what the form began with: another once the rule says something else."""
    said = [f"{name}={value}" for name, value in sorted(form.initial.items())]
    return sha256("\n".join(said).encode()).hexdigest()[:16]


def refuse_if_changed(request: HttpRequest, form: RuleForm, *, done: Doing) -> None:
    """Put on a sent form that the rule was changed since it was opened.

    The second of two taps is no change by others.
    """
    seen = request.POST.get("seen", "")
    if not seen or seen == seen_of(form) or not form.is_valid():
        return
    if done.hand_in is not None and HandIn.objects.filter(pk=done.hand_in).exists():
        return
    form.add_error(
        None,
        _(
            "Somebody changed this rule after you opened it. Look at the rule, and send this again "
            "if it shall be as it stands here."
        ),
    )
