"""What forms of pages share: a day field, and acts whose refusal stands in the form beside what was typed."""

from collections.abc import Callable
from typing import Any, TypeVar

from django import forms

from teamtrack.common.errors import NotFound, Refused

Answer = TypeVar("Answer")


class DayField(forms.DateField):
    """A day, picked or typed."""

    def __init__(self, **options: Any) -> None:
        widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
        super().__init__(widget=widget, input_formats=["%Y-%m-%d"], **options)


class TypedForm(forms.Form):
    """A form of a page: its ids begin with `name`, so that several stand on one page; a refusal becomes its error."""

    name = "form"
    required_css_class = "wanted"

    def __init__(self, *args: Any, **options: Any) -> None:
        self.status = 200
        super().__init__(*args, auto_id=f"{self.name}-%s", **options)

    def tried(self, act: Callable[[dict[str, Any]], Answer]) -> tuple[bool, Answer | None]:
        """Whether it was done, and what the act answered; else the form holds what was wrong and its `status`."""
        if not self.is_valid():
            self.status = Refused.status
            return False, None
        try:
            return True, act(self.cleaned_data)
        except NotFound:
            raise
        except Refused as refusal:
            self.add_error(None, refusal.detail)
            self.status = refusal.status
            return False, None
