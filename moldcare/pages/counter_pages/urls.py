"""Addresses of counters."""

from django.urls import path

from moldcare.pages.counter_pages import views

urlpatterns = [
    path("counters/add", views.counter_add, name="counter-add"),
    path("counters/<int:pk>", views.counter, name="counter"),
    path("counters/<int:pk>/fit", views.counter_fit, name="counter-fit"),
    path("counters/<int:pk>/exchange", views.counter_exchange, name="counter-exchange"),
    path("counters/<int:pk>/remove", views.counter_remove, name="counter-remove"),
]
