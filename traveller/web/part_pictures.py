"""Pictures of parts by their digest: what stands at such an address never changes."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from traveller.products.models import Part
from traveller.web.who import who_of


@require_safe
def part_picture(request: HttpRequest, digest: str) -> HttpResponse:
    """For the founder or any pass: who knows the digest has seen the page that names it; 404 to strangers."""
    who = who_of(request)
    if who.founder is None and who.shop is None:
        raise Http404
    found = Part.objects.filter(picture_digest=digest).values_list("picture", "picture_type").first()
    if not digest or found is None or not found[0]:
        raise Http404
    answer = HttpResponse(bytes(found[0]), content_type=found[1] or "image/png")
    answer["Cache-Control"] = "private, max-age=31536000, immutable"
    return answer
