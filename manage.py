#!/usr/bin/env python
"""Django's command line for the team server."""

import os
import sys

OWNER_COMMANDS = {"migrate", "flush", "setup", "backup", "restore", "create_app_login"}


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "teamtrack.settings")
    if len(sys.argv) > 1 and sys.argv[1] in OWNER_COMMANDS:
        os.environ.setdefault("TEAMTRACK_AS_OWNER", "1")
    if sys.argv[1:2] == ["demo"]:
        from teamtrack.common.serving.environment import set_demo_environment

        set_demo_environment(sys.argv[2:])
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
