"""Addresses of the import of readings."""

from django.urls import path

from moldcare.pages.imports import views

urlpatterns = [
    path("import", views.import_readings, name="import-readings"),
    path("import/<int:pk>", views.import_preview, name="import-preview"),
    path("imports/<int:pk>", views.import_batch, name="import-batch"),
    path("imports/<int:pk>/kept.csv", views.import_kept, name="import-kept"),
]
