"""Exit status 0 where a health address of the web answers 200: for a container's health check, which has no curl."""

import sys
import urllib.error
import urllib.request


def main(url: str) -> int:
    try:
        with urllib.request.urlopen(url, timeout=4) as answer:  # noqa: S310 - our own address
            return 0 if answer.status == 200 else 1
    except (urllib.error.URLError, OSError):
        return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
