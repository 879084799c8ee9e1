"""The links to the style sheets: one where they are collected, else each as it lies."""

from django import template
from django.conf import settings
from django.templatetags.static import static
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from moldcare.light_styles import ALL_STYLES, STYLES

register = template.Library()


@register.simple_tag
def style_links() -> SafeString:
    """Return the links, in the order the sheets build on one another."""
    is_plain = str(settings.STORAGES["staticfiles"]["BACKEND"]).startswith("django.")
    names = STYLES if is_plain else (ALL_STYLES,)
    return format_html_join(
        "\n", '<link rel="stylesheet" href="{}">', ((static(name),) for name in names)
    )
