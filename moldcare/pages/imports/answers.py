"""What a form of the preview was sent with: answers by their keys."""

from collections.abc import Mapping

ANSWER = "answer:"
SHOWN = "shown:"
KEY_LENGTH = 160
ANSWERS_AT_MOST = 200


def answers_in(data: Mapping[str, str]) -> dict[str, str]:
    """Return the answers that a form was sent with, by their keys.

    A choice that stands as it was shown is no answer: what the reader took by itself stays open to
    better knowledge.
    """
    found = {
        key.removeprefix(ANSWER): value.strip()[:KEY_LENGTH]
        for key, value in data.items()
        if key.startswith(ANSWER)
        and len(key) <= KEY_LENGTH + len(ANSWER)
        and "\0" not in value
        and data.get(f"{SHOWN}{key.removeprefix(ANSWER)}") != value
    }
    return dict(list(found.items())[:ANSWERS_AT_MOST])
