"""Addresses of the task sheet."""

from django.urls import path

from moldcare.pages.sheet import views

urlpatterns = [
    path("orders/<int:number>/sheet", views.sheet, name="sheet"),
]
