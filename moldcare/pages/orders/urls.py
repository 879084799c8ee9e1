"""Addresses of the orders."""

from django.urls import path

from moldcare.pages.molds.addresses import use_mold_numbers
from moldcare.pages.orders import adding, paper, views

use_mold_numbers()

urlpatterns = [
    path("orders", views.orders, name="orders"),
    path("orders/<int:number>", views.order, name="order"),
    path("orders/<int:number>/tasks", adding.order_tasks, name="order-tasks"),
    path("orders/<int:number>/print", paper.order_print, name="order-print"),
    path("orders/<int:number>/paper", paper.order_paper, name="order-paper"),
    path("molds/<mold_number:number>/order", adding.order_add, name="order-add"),
]
