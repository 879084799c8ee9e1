"""What the archive's README.txt says."""

from typing import Final

README_TEXT: Final = """\
A plant as moldcare keeps it, in open formats.

manifest.json   The form of this archive (version), when it was made, of which plant; each table
                with its columns, the number of its rows and the SHA-256 of its file; photos that
                were lost already.
tables/*.csv    One file a table: UTF-8, commas, as RFC 4180 has it. The first line names the
                columns.
tables/*.jsonl  Tables whose values nest, or are long texts: one JSON object a line, UTF-8.
files/*         Photos and documents. Each is named by the SHA-256 of its bytes.

Values
  Instants are in UTC to the microsecond (2026-11-25T06:12:00.000000Z); dates and times of day are
  as ISO 8601 has them; true and false; decimals have a point and all their places.
  A column that ends with _id holds the id of a row of another table.
  In CSV, \\N is a value that is not there; an empty cell is an empty text. A text that begins with
  a backslash has one more before it. A text that a spreadsheet would run as a formula has an
  apostrophe before it. Take away that one sign, and the text is as it was written.

The logbook
  tables/logbook.Entry.jsonl holds each entry with the exact text that was hashed (canonical) and
  its hash: hash = SHA-256 of the UTF-8 bytes of canonical. The text names the hash of the entry
  before it in its chain. tables/logbook.Seal.jsonl closes months over all chains.

Not in it
  Passwords, PINs, tokens of feeds, sessions; and what follows from the rest: verdicts on readings,
  lives of molds, standings of rules.

Reading it back
  manage.py import_plant FILE, into an empty database.
"""
