"""Addresses of what is printed."""

from django.urls import path

from moldcare.pages.molds.addresses import use_mold_numbers
from moldcare.pages.printing import labels, mold_record

use_mold_numbers()

urlpatterns = [
    path("labels", labels.print_labels, name="print-labels"),
    path(
        "molds/<mold_number:number>/record.pdf",
        mold_record.mold_record_print,
        name="mold-record",
    ),
]
