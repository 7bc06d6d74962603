"""The founder's pages."""

from __future__ import annotations

from django.urls import URLPattern, path

from traveller.web.founder import consignment, consignments, home, kits, send_goods, stock

goods: list[URLPattern] = [
    path("stock", stock.stock, name="stock"),
    path("kits", kits.kits, name="kits"),
    path("consignments", consignments.consignments, name="consignments"),
    path("consignments/new", send_goods.send_goods, name="send_goods"),
    path("consignments/<str:code>", consignment.consignment, name="consignment"),
    path("consignments/<str:code>/note", consignment.note, name="consignment_note"),
    path("consignments/<str:code>/lines/<int:line_id>/settle", consignment.settle, name="settle"),
    path("consignments/<str:code>/lines/<int:line_id>/count", consignment.count, name="count_for"),
]

work: list[URLPattern] = [
    path("", home.home, name="home"),
]

urlpatterns: list[URLPattern] = [*work, *goods]
