"""Work orders and months of the logbook put together for paper, from rows."""

from moldcare.pages.printing.logbook import fact_lines, logbook_month, photo_lines
from moldcare.pages.printing.orders import order_document

__all__ = ["fact_lines", "logbook_month", "order_document", "photo_lines"]
