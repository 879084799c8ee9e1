"""Addresses of signing in and off."""

from django.urls import path

from moldcare.pages.sign_in import idle, people, views

urlpatterns = [
    path("sign-in", views.sign_in, name="sign-in"),
    path("sign-in/badge", views.sign_at_tablet, name="sign-at-tablet"),
    path("sign-in/people", people.people_here, name="people-here"),
    path("sign-in/still-here", idle.still_here, name="still-here"),
    path("sign-off", views.sign_off, name="sign-off"),
]
