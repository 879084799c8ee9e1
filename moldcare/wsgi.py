"""The application that a WSGI server loads."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "moldcare.settings")

application = get_wsgi_application()

# after the applications are loaded: the checks are one of theirs
from moldcare.pages.checks import refuse_to_start  # noqa: E402

refuse_to_start()
