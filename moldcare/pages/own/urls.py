"""Addresses of what people set for themselves."""

from django.urls import path

from moldcare.pages.own import views

urlpatterns = [
    path("you", views.you, name="you"),
    path("you/pin", views.own_pin, name="own-pin"),
    path("you/password", views.own_password, name="own-password"),
]
