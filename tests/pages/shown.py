"""What a page shows, for tests that read it."""

from html import unescape
from re import sub


def words_of(answer: object) -> str:
    """The words of a page, blanks as one."""
    html = answer.getvalue().decode()  # type: ignore[attr-defined]
    return unescape(sub(r"\s+", " ", sub(r"<[^>]+>", " ", html)))
