"""Addresses of the tablets."""

from django.urls import path

from moldcare.pages.tablet import views
from moldcare.pages.tablet.contact import contact
from moldcare.pages.tablet.worker import worker

urlpatterns = [
    path("sw.js", worker, name="service-worker"),
    path("tablet", views.tablet, name="tablet"),
    path("tablet/contact", contact, name="contact"),
    path("tablet/pack", views.pack, name="tablet-pack"),
    path("tablet/sign-on", views.sign_on, name="tablet-sign-on"),
    path("tablet/stuck", views.stuck_given, name="tablet-stuck"),
    path("tablets", views.tablets, name="tablets"),
    path("tablets/stuck/<uuid:hand_in>", views.stuck, name="stuck"),
]
