"""The files that the lists of a page can be saved as."""

from typing import Any

from django import template

from moldcare.acts.rights import may
from moldcare.feeds.export.lists import LISTS

register = template.Library()


@register.inclusion_tag("exports/_save.html", takes_context=True)
def save_lists(context: dict[str, Any], *names: str) -> dict[str, Any]:
    """Offer the whole lists with these names, those that whoever looks may have."""
    person = context["request"].user
    return {"lists": [LISTS[name] for name in names if may(person, LISTS[name].right)]}
