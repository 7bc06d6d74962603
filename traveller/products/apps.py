from __future__ import annotations

from django.apps import AppConfig


class ProductsConfig(AppConfig):
    name = "traveller.products"
    label = "products"
    default_auto_field = "django.db.models.BigAutoField"
