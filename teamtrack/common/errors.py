"""Errors that services and access raise and doorways turn into answers."""

from teamtrack.common.words import NOT_FOUND


class Refused(Exception):
    """A wish that the product does not follow; `code` is stable, `detail` is one sentence for a person."""

    status = 400

    def __init__(self, code: str, detail: str, *, fields: dict[str, list[str]] | None = None) -> None:
        super().__init__(code)
        self.code, self.detail, self.fields = code, detail, fields or {}


class NotFound(Refused):
    """Absent or not yours: nobody can tell which."""

    status = 404

    def __init__(self) -> None:
        super().__init__("NOT_FOUND", str(NOT_FOUND))


class Conflict(Refused):
    """Somebody else was faster; what they changed is shown and nothing is overwritten."""

    status = 409
