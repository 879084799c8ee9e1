"""Scripts as they are served: without the comments and indentation that are for who reads them.

A tablet loads them over a hall's wifi. Only whole lines go: what stands in a line stays as it is.
"""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.contrib.staticfiles.storage import StaticFilesStorage
from whitenoise.storage import CompressedManifestStaticFilesStorage

from moldcare.light_styles import ALL_STYLES, all_styles

_REMARK = re.compile(r"^[ \t]*/\*.*?\*/[ \t]*$", re.M | re.S)


def light(script: str) -> str:
    r"""Return a script without comments that have lines of their own, and without indentation.

    Examples
    --------
    >>> light('/* What it does. */\nconst kind = "image/*"; // stays\n  // goes\n  go(kind);\n')
    'const kind = "image/*"; // stays\ngo(kind);\n'
    """
    lines = (line.strip() for line in _REMARK.sub("", script).splitlines())
    return "".join(f"{line}\n" for line in lines if line and not line.startswith("//"))


class LightStaticFilesStorage(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    """Collects static files compressed, under names of their content: scripts light, styles one."""

    def post_process(
        self, paths: dict[str, tuple[StaticFilesStorage, str]], **options: Any
    ) -> Iterator[Any]:
        """Make our own scripts light before they are named after their content."""
        if not options.get("dry_run"):
            for name in list(paths):
                if name.startswith("js/") and name.endswith(".js"):
                    collected = Path(self.path(name))
                    collected.write_text(light(collected.read_text()))
                    paths[name] = (self, name)
            collected = Path(self.path(ALL_STYLES))
            collected.write_text(all_styles(Path(self.location)))
            paths[ALL_STYLES] = (self, ALL_STYLES)
        yield from super().post_process(paths, **options)
