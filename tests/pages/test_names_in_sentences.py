"""Names of shifts and parts of pages inside sentences, as each language writes them."""

import pytest
from django.utils import translation

from moldcare.pages.words import in_sentence


@pytest.mark.parametrize(
    ("language", "name", "said"),
    [
        ("en", "Early", "early"),
        ("es", "Mañana", "mañana"),
        # nouns keep their capital in German, and what a plant calls its shifts are nouns
        ("de", "Frühschicht", "Frühschicht"),
        ("de-at", "Nacht", "Nacht"),
        ("en", "C2 West", "c2 West"),
        ("en", "", ""),
    ],
)
def test_a_name_inside_a_sentence_is_written_as_its_language_does(
    language: str, name: str, said: str
) -> None:
    with translation.override(language):
        assert in_sentence(name) == said
