"""Addresses of what is printed."""

from django.urls import path

from moldcare.pages.molds.addresses import use_mold_numbers
from moldcare.pages.printing import labels, mold_record, water_map

use_mold_numbers()

urlpatterns = [
    path("labels", labels.print_labels, name="print-labels"),
    path(
        "molds/<mold_number:number>/record.pdf",
        mold_record.mold_record_print,
        name="mold-record",
    ),
    path(
        "molds/<mold_number:number>/water-map.pdf",
        water_map.water_map_print,
        name="mold-water-map",
    ),
]
