"""The packer's pages: is this kit right? Ship it."""

from __future__ import annotations

from django.urls import path

from traveller.web.packer import cartons, kit, lines

urlpatterns = [
    path("", lines.lines, name="pack"),
    path("scan", lines.typed, name="pack_scan"),
    path("photo", lines.photo, name="pack_photo"),
    path("t/<str:code>", lines.scanned, name="pack_code"),
    path("t/<str:code>/<int:step>", lines.scanned, name="pack_code_step"),
    path("line/<int:line_id>", kit.line, name="pack_line"),
    path("carton/<str:code>", cartons.carton, name="pack_carton"),
    path("carton/<str:code>/open", cartons.open_again, name="pack_open_again"),
    path("carton/<str:code>/list", cartons.packing_list, name="pack_list"),
    path("ship/<int:order_id>", cartons.ship_order, name="pack_ship"),
    path("shipment/<str:code>", cartons.shipment, name="pack_shipment"),
]
