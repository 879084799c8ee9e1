"""Entries of the logbook in words, for templates."""

from django import template

from moldcare.pages.logbook.words import kind_words

register = template.Library()


@register.filter
def kind_said(kind: str) -> str:
    """Say which kind of entry it is."""
    return kind_words(kind)


@register.filter
def hash_said(text: str) -> str:
    """Part a hash into groups of four, so that it can be compared by eye."""
    return " ".join(text[at : at + 4] for at in range(0, len(text), 4))
