"""What every answer says beside its content: who may keep it, who may use it, what its page may do."""

from __future__ import annotations

import re
from collections.abc import Callable

from django.http import HttpRequest, HttpResponseBase

__all__ = ["HeadersMiddleware", "holds_a_key"]

# Scanning needs the camera, scales a serial line, signing in a passkey. Everything else that a browser could give
# away or start is closed, for the page and any part of it; the bell of a timer (autoplay) stays as browsers have it.
_OPEN = ("camera", "serial", "publickey-credentials-get", "publickey-credentials-create")
_CLOSED = (
    "accelerometer",
    "browsing-topics",
    "clipboard-read",
    "clipboard-write",
    "display-capture",
    "encrypted-media",
    "fullscreen",
    "gamepad",
    "geolocation",
    "gyroscope",
    "hid",
    "identity-credentials-get",
    "idle-detection",
    "local-fonts",
    "magnetometer",
    "microphone",
    "midi",
    "otp-credentials",
    "payment",
    "picture-in-picture",
    "screen-wake-lock",
    "storage-access",
    "usb",
    "window-management",
    "xr-spatial-tracking",
)
PERMISSIONS = ", ".join([*(f"{name}=(self)" for name in _OPEN), *(f"{name}=()" for name in _CLOSED)])
# The door: a pass or a sign-in link stands in the address, is typed there, or is typed there next.
_KEYED = re.compile(r"/(?:pass|sign-in)(?:/|$)", re.IGNORECASE)


def holds_a_key(path: str) -> bool:
    """Is a pass or a sign-in link part of this page or of its address?"""
    return _KEYED.match(path) is not None


class HeadersMiddleware:
    """Stands before all others, so that refusals, redirects and static files carry these headers too."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        answer = self.get_response(request)
        answer.headers["Permissions-Policy"] = PERMISSIONS
        answer.headers["Cross-Origin-Resource-Policy"] = "same-origin"
        if holds_a_key(request.path_info):
            answer.headers["Referrer-Policy"] = "no-referrer"
            answer.headers["Cache-Control"] = "private, no-store"
        else:
            # A page is for whoever asked, now. What may be kept (static files, pictures named by their digest, the
            # keeper's script) has said so itself.
            answer.headers.setdefault("Cache-Control", "private, no-store")
        return answer
