"""From which address does a request come? For counting tries at the door; kept nowhere but as a digest."""

from __future__ import annotations

from ipaddress import IPv6Address, ip_address, ip_network

from django.conf import settings
from django.http import HttpRequest


def address_of(request: HttpRequest) -> str:
    """The client's address as the outermost proxy of ours saw it; the socket's own where none stands before us.

    Each proxy adds the address it was called from at the end of X-Forwarded-For, and anybody may have sent that
    header filled in: only as many entries as there are proxies of ours are believed, counted from the end.
    """
    socket = str(request.META.get("REMOTE_ADDR", ""))
    count: int = settings.PROXY_COUNT
    if not count:
        return _grouped(socket) or socket
    reported = [entry.strip() for entry in request.headers.get("x-forwarded-for", "").split(",")]
    return _grouped(reported[-count:][0]) or _grouped(socket) or socket


def _grouped(text: str) -> str:
    """The address written in one way, IPv6 by its network: one customer of a provider has a whole /64."""
    try:
        found = ip_address(text.strip("[]"))
    except ValueError:
        return ""
    if isinstance(found, IPv6Address):
        mapped = found.ipv4_mapped
        return str(mapped) if mapped else str(ip_network((found, 64), strict=False))
    return str(found)
