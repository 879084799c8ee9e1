"""The JSON of `dumpdata` with instants to the microsecond.

Django's own JSON cuts instants to milliseconds. The logbook hashes microseconds, so a plant that
moved from one database to another would fail its own verification on good data.
"""

from datetime import datetime
from typing import Any

from django.core.serializers import json
from django.core.serializers.json import Deserializer, DjangoJSONEncoder

__all__ = ["Deserializer", "Serializer"]


class _WholeInstants(DjangoJSONEncoder):
    def default(self, o: Any) -> Any:
        if isinstance(o, datetime):
            return o.isoformat(timespec="microseconds")
        return super().default(o)


class Serializer(json.Serializer):
    """Writes rows as JSON, instants whole."""

    def _init_options(self) -> None:
        super()._init_options()  # type: ignore[misc]
        self.json_kwargs["cls"] = _WholeInstants
