"""Addresses of the files that come in: readings, molds, care rules."""

from django.urls import path

from moldcare.pages.imports import afterwards, views

urlpatterns = [
    path("import", views.import_readings, name="import-readings"),
    path("import/molds", views.import_molds, name="import-molds"),
    path("import/rules", views.import_rules, name="import-rules"),
    path("import/<int:pk>", views.import_preview, name="import-preview"),
    path("imports/<int:pk>", views.import_batch, name="import-batch"),
    path("imports/<int:pk>/kept.csv", views.import_kept, name="import-kept"),
    path("imports/<int:pk>/undo", afterwards.import_undo, name="import-undo"),
    path("imports/rows/<int:kept>", afterwards.import_mend, name="import-mend"),
]
