"""The address of a file."""

from django.urls import path

from moldcare.pages.files import views

urlpatterns = [
    path("files/<str:sha256>", views.file, name="file"),
]
