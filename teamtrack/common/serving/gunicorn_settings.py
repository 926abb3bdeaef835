"""Settings of the web server, for the demo and for servers alike; the address comes by command line."""

import os
from typing import Any

from teamtrack.common.serving.parent_death import end_with_parent

wsgi_app = "teamtrack.wsgi"
worker_class = "gthread"
workers = int(os.environ.get("WEB_WORKERS", "1"))
threads = int(os.environ.get("WEB_THREADS", "8"))
timeout = 30
graceful_timeout = 10
control_socket_disable = True
errorlog = "-"
loglevel = "warning"


def post_fork(server: Any, worker: Any) -> None:
    """A worker ends with its master, so that the port is free for the next start."""
    end_with_parent(server.pid)
