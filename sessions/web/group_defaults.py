"""The page on which a group's coach or the head coach sets what the group has by default at a technique session."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django import forms
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _lazy
from django.views.decorators.http import require_http_methods

from athletes.models import EventGroup
from athletes.models.accounts import Role
from athletes.viewer import viewer_of
from sessions.access import get_group_set
from sessions.core.running.lengths import METRES, YARDS, length_cm, length_in
from sessions.models import Feature
from sessions.selectors.group_defaults import NUMBERS, GroupDefaults, features_in_use, group_defaults
from sessions.services.set_group_defaults import set_group_defaults
from teamtrack.common.errors import Conflict, Refused
from teamtrack.common.web.undo import offer_undo

LOOKS = "looks-"
SHOWN = "shown"
MINUTE_S = 60
UNIT_WORDS = {METRES: _lazy("In metres."), YARDS: _lazy("In yards.")}


class RestField(forms.CharField):
    """Minutes and seconds as the trackside page shows them: 3:00."""

    default_error_messages = {"shape": _lazy("Write minutes and seconds, for example 3:00, from 0:15 to 30:00.")}
    least_s, most_s = 15, 30 * MINUTE_S

    def to_python(self, value: Any) -> Any:
        if isinstance(value, int):
            return value
        minutes, _colon, seconds = str(value or "").strip().partition(":")
        if not value:
            return None
        is_shaped = minutes.isdecimal() and (not _colon or (seconds.isdecimal() and len(seconds) == len("00")))
        found = int(minutes) * MINUTE_S + int(seconds or 0) if is_shaped and len(minutes) <= len("30") else 0
        if not self.least_s <= found <= self.most_s or int(seconds or 0) >= MINUTE_S:
            raise forms.ValidationError(self.error_messages["shape"], code="shape")
        return found

    def prepare_value(self, value: Any) -> Any:
        return f"{value // MINUTE_S}:{value % MINUTE_S:02}" if isinstance(value, int) else value


class LengthField(forms.IntegerField):
    """A whole number of the club's unit, kept in centimetres."""

    default_error_messages = {"length": _lazy("Write a whole number, from %(least)d to %(most)d %(unit)s.")}
    least_m, most_m = 20, 400
    unit = METRES

    def to_python(self, value: Any) -> Any:
        if isinstance(value, str) and value.strip():
            ends = {"least": self._whole(self.least_m), "most": self._whole(self.most_m), "unit": self.unit}
            fault = forms.ValidationError(self.error_messages["length"], code="length", params=ends)
            try:
                number = super().to_python(value)
            except forms.ValidationError:
                raise fault from None
            if not ends["least"] <= number <= ends["most"]:
                raise fault
            return length_cm(number, self.unit)
        return value or None

    def prepare_value(self, value: Any) -> Any:
        return length_in(value, self.unit) if isinstance(value, int) else value

    def _whole(self, metres: int) -> int:
        return length_in(length_cm(metres, METRES), self.unit)


class DefaultsForm(forms.Form):
    """The group's numbers, and one box for each of the club's features in use."""

    strides = forms.IntegerField(
        label=_lazy("Strides"),
        help_text=_lazy("How many each athlete runs. Under 13 at most 8 are planned, under 16 at most 10."),
        min_value=1,
        max_value=30,
    )
    rest_s = RestField(label=_lazy("Rest between strides"), help_text=_lazy("Minutes and seconds, for example 3:00."))
    run_cm = LengthField(label=_lazy("How far a stride goes"))
    effort_low_pct = forms.IntegerField(
        label=_lazy("Effort from, in per cent of full speed"),
        help_text=_lazy("Leave both empty for no effort. Under 13 none is shown."),
        min_value=30,
        max_value=100,
        required=False,
    )
    effort_high_pct = forms.IntegerField(
        label=_lazy("Effort up to, in per cent"), min_value=30, max_value=100, required=False
    )
    effort_words = forms.CharField(
        label=_lazy("Effort in words"),
        help_text=_lazy("Said instead of the per cent, for example: quick and easy."),
        max_length=80,
        required=False,
    )
    at_once = forms.IntegerField(
        label=_lazy("How many run at once"),
        help_text=_lazy("Each needs a lane. A phone beside the straight can change it for the day."),
        min_value=1,
        max_value=12,
    )
    strides_a_feature = forms.IntegerField(
        label=_lazy("Strides before a point is judged"),
        help_text=_lazy("So many on one point before the next is looked for."),
        min_value=1,
        max_value=30,
    )

    def __init__(self, *args: Any, features: list[Feature], unit: str, **options: Any) -> None:
        super().__init__(*args, **options)
        run = self.fields["run_cm"]
        run.unit = unit
        run.help_text = UNIT_WORDS[unit]
        self.features = features
        for one in features:
            self.fields[LOOKS + one.pk.hex] = forms.BooleanField(label=one.label, required=False)

    @property
    def looks(self) -> list[forms.BoundField]:
        """The boxes of the features."""
        return [self[LOOKS + one.pk.hex] for one in self.features]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        low, high = given.get("effort_low_pct"), given.get("effort_high_pct")
        if not {"effort_low_pct", "effort_high_pct"} & set(self.errors):
            if (low is None) != (high is None):
                missing = "effort_low_pct" if low is None else "effort_high_pct"
                self.add_error(missing, _("Give both ends of the effort, or leave both empty."))
            elif low is not None and high is not None and low > high:
                self.add_error("effort_high_pct", _("This end has to be %(low)d or more.") % {"low": low})
        strides, judged = given.get("strides"), given.get("strides_a_feature")
        if strides and judged and judged > strides:
            text = _("No more than the %(count)d strides that each runs.")
            self.add_error("strides_a_feature", text % {"count": strides})
        if self.features and not any(given.get(LOOKS + one.pk.hex) for one in self.features):
            self.add_error(None, _("Tick at least one point that the group looks for."))
        return given


@require_http_methods(["GET", "POST"])
def group_defaults_page(request: HttpRequest, role: str, group_id: UUID) -> HttpResponse:
    """Read and change a group's defaults; where somebody was faster, that is shown and what was typed stays."""
    viewer = viewer_of(request, role)
    group = get_group_set(viewer, group_id)
    features = features_in_use(club_id=viewer.club_id, day=viewer.today)
    before = _signed(request.POST.get(SHOWN, ""))
    if request.method == "GET" or before is None:
        now = _typed(group_defaults(viewer=viewer, group=group), features)
        form = DefaultsForm(request.POST or None, initial=now, features=features, unit=viewer.club.distance_unit)
        return _page(request, group, form, now, refusal=_out_of_date() if request.method == "POST" else None)
    form = DefaultsForm(request.POST, features=features, unit=viewer.club.distance_unit)
    if not form.is_valid():
        return _page(request, group, form, before)
    shown, wanted = _defaults(before, features), _defaults(form.cleaned_data, features)
    try:
        is_changed = set_group_defaults(viewer=viewer, group_id=group_id, shown=shown, wanted=wanted)
    except Conflict as refusal:
        fresh = _typed(group_defaults(viewer=viewer, group=group), features)
        refusal.fields["changed"] = _differences(form, before, fresh)
        return _page(request, group, form, fresh, refusal=refusal)
    if is_changed:
        undo = _posted(form, before) | {SHOWN: signing.dumps(_typed(wanted, features), salt=SHOWN)}
        offer_undo(request, text=_("The group's defaults are changed."), action=request.path, fields=undo)
    return redirect(request.path)


def _out_of_date() -> Refused:
    text = _("This page is out of date. Nothing was changed; look at it and save again.")
    return Refused("CHECK_FIELDS", text)


def _signed(text: str) -> dict[str, Any] | None:
    """What a page showed, as the page says itself; None where that is missing or not ours."""
    try:
        return dict(signing.loads(text, salt=SHOWN))
    except signing.BadSignature:
        return None


def _defaults(given: Mapping[str, Any], features: list[Feature]) -> GroupDefaults:
    """Values of the form, typed or shown, as defaults."""
    looked_for = frozenset(one.pk for one in features if given.get(LOOKS + one.pk.hex))
    return GroupDefaults(**{name: given[name] for name in NUMBERS}, looks_for=looked_for)


def _typed(defaults: GroupDefaults, features: list[Feature]) -> dict[str, Any]:
    """The defaults as the form's values."""
    boxes = {LOOKS + one.pk.hex: one.pk in defaults.looks_for for one in features}
    return {name: getattr(defaults, name) for name in NUMBERS} | boxes


def _posted(form: DefaultsForm, values: Mapping[str, Any]) -> dict[str, str]:
    """Values as a browser posts them: an empty one and a box that is not ticked say nothing."""
    texts = {name: _text(form, name, value) for name, value in values.items()}
    return {name: text for name, text in texts.items() if text}


def _text(form: DefaultsForm, name: str, value: Any) -> str:
    if isinstance(value, bool):
        return "on" if value else ""
    prepared = form.fields[name].prepare_value(value)
    return "" if prepared is None else str(prepared)


def _differences(form: DefaultsForm, before: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    """A sentence for each of the defaults that somebody else changed."""
    told = []
    for name, value in now.items():
        label = form.fields[name].label
        if isinstance(value, bool) and value != bool(before.get(name)):
            text = _("%(point)s: is looked for now.") if value else _("%(point)s: is no longer looked for.")
            told.append(text % {"point": label})
        elif not isinstance(value, bool) and value != before.get(name):
            fresh, old = (_text(form, name, one) or _("nothing") for one in (value, before.get(name)))
            told.append(_("%(what)s: now %(now)s, was %(before)s.") % {"what": label, "now": fresh, "before": old})
    return told


def _page(
    request: HttpRequest,
    group: EventGroup,
    form: DefaultsForm,
    shown: Mapping[str, Any],
    *,
    refusal: Refused | None = None,
) -> HttpResponse:
    context = {
        "group": group,
        "form": form,
        "shown": signing.dumps(shown, salt=SHOWN),
        "refusal": refusal,
        "acting_role": Role(request.resolver_match.kwargs["role"]).label,
    }
    status = refusal.status if refusal else 400 if form.errors else 200
    return render(request, "sessions/group_defaults.html", context, status=status)
