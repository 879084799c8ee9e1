"""Numbers and names: when two are the same, and how they sort."""

import re
import unicodedata


def name_key(text: str) -> str:
    """Return the form under which two spellings of one number or name are the same."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", text.strip()).casefold())


def sort_key(text: str) -> str:
    """Return the form that sorts M-2 before M-10, the same on every database."""
    return re.sub(r"\d+", lambda match: match.group().zfill(12), name_key(text))[:200]
