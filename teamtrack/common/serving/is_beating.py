"""Exit status 0 where a worker of the named queue was heard of lately: for a container's health check."""

import os
import sys

import django


def main(queue: str) -> int:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "teamtrack.settings")
    django.setup()
    from teamtrack.common.heartbeat import is_alive

    return 0 if is_alive(queue) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
