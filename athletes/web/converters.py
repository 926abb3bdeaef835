"""Parts of page addresses: the roles in which families answer, those in which staff act, those that plan or help."""

from functools import cache

from django.urls import register_converter


class FamilyRole:
    """The roles in which families answer questions and say "not coming"."""

    regex = "athlete|guardian"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


class StaffRole(FamilyRole):
    """The roles that the club gives, written as in other addresses."""

    regex = "head-coach|coach|admin|welfare"

    def to_python(self, value: str) -> str:
        return value.replace("-", "_")

    def to_url(self, value: str) -> str:
        return value.replace("_", "-")


class Planner(StaffRole):
    """Who plans meets and reads calendar files."""

    regex = "head-coach|coach"


class Opener(StaffRole):
    """Who may open pain notes in an emergency."""

    regex = "coach|admin|welfare"


@cache
def register() -> None:
    """Make `<family_role:role>`, `<staff_role:staff>`, `<planner:planner>` and `<opener:opener>` known, once."""
    register_converter(FamilyRole, "family_role")
    register_converter(StaffRole, "staff_role")
    register_converter(Planner, "planner")
    register_converter(Opener, "opener")
