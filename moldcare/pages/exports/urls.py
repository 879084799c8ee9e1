"""Addresses of what can be saved."""

from django.urls import path

from moldcare.pages.exports import views

urlpatterns = [
    path("exports", views.exports, name="exports"),
    path("exports/plant.zip", views.export_plant, name="export-plant"),
    path("exports/<slug:name>.<slug:format>", views.export_list, name="export-list"),
]
