"""The WSGI doorway of the team server."""

import os

from django.core.wsgi import get_wsgi_application

from teamtrack.common.serving.start import check_before_serving

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "teamtrack.settings")

application = get_wsgi_application()
check_before_serving()
