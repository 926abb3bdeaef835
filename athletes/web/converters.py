"""Parts of page addresses: the roles in which families answer, those in which staff act, and those that plan."""

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


@cache
def register() -> None:
    """Make `<family_role:role>`, `<staff_role:staff>` and `<planner:planner>` known, once."""
    register_converter(FamilyRole, "family_role")
    register_converter(StaffRole, "staff_role")
    register_converter(Planner, "planner")
