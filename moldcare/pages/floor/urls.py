"""Addresses of the floor's forms."""

from django.urls import path

from moldcare.pages.floor import counts, inside, interruptions, places, plans
from moldcare.pages.molds.addresses import use_mold_numbers

use_mold_numbers()

urlpatterns = [
    path("molds/<mold_number:number>/set", places.mold_set, name="mold-set"),
    path("molds/<mold_number:number>/pull", places.mold_pull, name="mold-pull"),
    path("molds/<mold_number:number>/move", places.mold_move, name="mold-move"),
    path("molds/<mold_number:number>/condition", inside.mold_condition, name="mold-condition"),
    path("molds/<mold_number:number>/fit", inside.mold_fit, name="mold-fit"),
    path("molds/<mold_number:number>/take-out", inside.mold_take_out, name="mold-take-out"),
    path("molds/<mold_number:number>/block", inside.mold_block, name="mold-block"),
    path("molds/<mold_number:number>/note", inside.mold_note, name="mold-note"),
    path("molds/<mold_number:number>/cycle", counts.mold_cycle, name="mold-cycle"),
    path("molds/<mold_number:number>/count", counts.mold_count, name="mold-count"),
    path("molds/<mold_number:number>/run", plans.mold_run, name="mold-run"),
    path("runs/<int:pk>", plans.run_edit, name="run-edit"),
    path(
        "molds/<mold_number:number>/interruption",
        interruptions.mold_interruption,
        name="mold-interruption",
    ),
    path("interruption", interruptions.interruption, name="report-interruption"),
    path("interruptions/<int:pk>/end", interruptions.interruption_end, name="interruption-end"),
]
