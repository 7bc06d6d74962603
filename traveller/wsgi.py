"""The door for the production server."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application

from traveller.web.readable_cookies import marked

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "traveller.settings")

application = marked(get_wsgi_application())
