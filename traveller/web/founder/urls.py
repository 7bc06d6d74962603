"""The founder's pages."""

from __future__ import annotations

from django.urls import URLPattern, path

from traveller.web.founder import home, stock

goods: list[URLPattern] = [
    path("stock", stock.stock, name="stock"),
]

work: list[URLPattern] = [
    path("", home.home, name="home"),
]

urlpatterns: list[URLPattern] = [*work, *goods]
