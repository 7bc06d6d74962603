"""Coming in: signing in, opening a pass, scanning a code."""

from __future__ import annotations

from django.urls import path

from traveller.web import door_views as views
from traveller.web.keeper_files import keeper, manifest
from traveller.web.language.choose import choose_language
from traveller.web.part_pictures import part_picture

urlpatterns = [
    path("sign-in", views.SignIn.as_view(), name="sign_in"),
    path("sign-in/<str:token>", views.sign_in_by_link, name="sign_in_by_link"),
    path("sign-out", views.sign_out, name="sign_out"),
    path("pass", views.enter_pass, name="enter_pass"),
    path("pass/<str:token>", views.open_pass, name="open_pass"),
    path("pass-off", views.leave_pass, name="leave_pass"),
    path("person", views.choose_person, name="choose_person"),
    path("language", choose_language, name="language"),
    path("t/<str:code>", views.scanned, name="scanned"),
    path("t/<str:code>/<int:step>", views.scanned, name="scanned_step"),
    path("keeper.js", keeper, name="keeper"),
    path("manifest.webmanifest", manifest, name="manifest"),
    path("picture/<str:digest>", part_picture, name="part_picture"),
]
