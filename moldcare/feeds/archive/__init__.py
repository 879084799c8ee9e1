"""The whole plant as one archive of open formats, out and back in.

`write_archive` writes a ZIP of CSV, JSON Lines, JSON and photos; `read_archive` reads one into an
empty database.
"""

from moldcare.feeds.archive.errors import ArchiveRefused
from moldcare.feeds.archive.reading import ReadIn, read_archive
from moldcare.feeds.archive.writing import Written, write_archive

__all__ = ["ArchiveRefused", "ReadIn", "Written", "read_archive", "write_archive"]
