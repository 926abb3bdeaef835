"""What families ask about their data, each with its clock, and the history that somebody brought from another club."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models.club import ClubRow
from athletes.models.people import Person


class DataRequest(ClubRow):
    """One request about an athlete's data; `due_on` is a month after it came in, or three where it was extended.

    `code` is the decision's answer when it came in; `answer` is the text that was sent, `kept` what stays and why.
    """

    class Kind(models.TextChoices):
        ACCESS = "access", _("see what is kept")
        CORRECTION = "correction", _("correct something")
        OBJECTION = "objection", _("object to a use")
        RESTRICTION = "restriction", _("store it only")
        ERASURE = "erasure", _("take something away")
        EXPORT = "export", _("take a copy along")

    class State(models.TextChoices):
        OPEN = "open", _("open")
        DONE = "done", _("done")
        REFUSED = "refused", _("not followed")
        TAKEN_BACK = "taken_back", _("taken back")

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="data_requests")
    asked_by = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="data_requests_asked")
    capacity = models.CharField(max_length=8)
    kind = models.CharField(max_length=12, choices=Kind.choices)
    what = models.CharField(max_length=20, blank=True)
    words = models.CharField(max_length=1000, blank=True)
    received_on = models.DateField()
    due_on = models.DateField()
    extended_on = models.DateField(null=True, blank=True)
    extended_because = models.CharField(max_length=300, blank=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)
    code = models.CharField(max_length=30)
    acted_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    ended_on = models.DateField(null=True, blank=True)
    answer = models.TextField(blank=True)
    kept = models.TextField(blank=True)
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["due_on", "id"]
        indexes = [models.Index(fields=["club", "state", "due_on"], name="data_requests_by_day")]

    def __str__(self) -> str:
        return f"{self.kind} {self.received_on}"


class BroughtItem(ClubRow):
    """One item of a copy that an athlete brought from another club: history to read, never a permission."""

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="brought_items")
    kind = models.CharField(max_length=20)
    item_id = models.CharField(max_length=64)
    made_at = models.CharField(max_length=40)
    content = models.JSONField()
    from_club = models.CharField(max_length=120)
    brought_at = models.DateTimeField()

    class Meta:
        ordering = ["kind", "made_at", "item_id"]
        constraints = [models.UniqueConstraint(fields=["athlete", "kind", "item_id"], name="brought_once")]

    def __str__(self) -> str:
        return f"{self.kind} {self.item_id}"
