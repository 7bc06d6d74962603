"""The door for the production server."""

from __future__ import annotations

import logging
import os

from django.core.wsgi import get_wsgi_application

from traveller.web.only_utf8 import Utf8Request
from traveller.web.tokens_blanked import SERVER_LOGGERS, TokensBlanked

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "traveller.settings")

application = get_wsgi_application()
application.request_class = Utf8Request

# The server's own loggers have their own handlers, which know nothing of our filter.
for _name in SERVER_LOGGERS:
    logging.getLogger(_name).addFilter(TokensBlanked())
