"""Every address: one include per reader. `/t/CODE` is on paper: it outlives releases."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("traveller.web.door_urls")),
    path("", include("traveller.web.founder.urls")),
    path("here/", include("traveller.web.operator.urls")),
    path("pack/", include("traveller.web.packer.urls")),
]

# A database that is away, busy or full is answered with 503, wherever it was asked; what else goes wrong, in words.
handler400 = "traveller.web.outage.bad_request"
handler403 = "traveller.web.faults.not_allowed"
handler404 = "traveller.web.faults.not_there"
handler500 = "traveller.web.outage.server_error"
