"""The door for the production server."""

from __future__ import annotations

import logging
import multiprocessing
import os

from django.core.wsgi import get_wsgi_application

from traveller.management.memory import give_memory_back
from traveller.management.parent import end_with, stop_when_told
from traveller.web.only_utf8 import Utf8Request
from traveller.web.readable_cookies import marked
from traveller.web.tokens_blanked import SERVER_LOGGERS, TokensBlanked

# In a process of the server, before the long part: one that cannot be stopped, or outlives a killed parent,
# would keep the port and answer beside the next server.
if (server := multiprocessing.parent_process()) is not None and server.pid is not None:
    stop_when_told()
    end_with(server.pid)

give_memory_back()
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "traveller.settings")

handler = get_wsgi_application()
handler.request_class = Utf8Request
application = marked(handler)

# The server's own loggers have their own handlers, which know nothing of our filter.
for _name in SERVER_LOGGERS:
    logging.getLogger(_name).addFilter(TokensBlanked())
