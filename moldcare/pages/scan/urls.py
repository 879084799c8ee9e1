"""The address of the page that opens what a label names."""

from django.urls import path

from moldcare.pages.scan import views

urlpatterns = [path("scan", views.scan, name="scan")]
