"""Permission answers as events that are never edited, and what else the decision reads."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models.club import ClubRow, Dated
from athletes.models.noted import NotedRows
from athletes.models.people import Person


class Purpose(models.TextChoices):
    """What data may be used for."""

    RECORD = "record", _("membership, plan and attendance")
    AVAILABILITY = "availability", _("what is possible today")
    FEEDBACK = "feedback", _("form history")
    MESSAGE = "message", _("notices")
    HEALTH = "health", _("pain and injuries")
    SHARE = "share", _("coaches of other groups")
    FEED = "feed", _("calendar address")
    STATS = "stats", _("club numbers")
    PLAN = "plan", _("where and when")
    AUDIT = "audit", _("who looked")
    VIEW = "view", _("what a guardian may see")
    COPY = "copy", _("a copy taken by a guardian")
    ERASURE = "erasure", _("something taken away at a guardian's wish")


class Wording(ClubRow):
    """The immutable text of a question or notice."""

    class Change(models.TextChoices):
        MINOR = "minor", _("spelling only")
        MATERIAL = "material", _("a change in meaning")

    purpose = models.CharField(max_length=12, choices=Purpose.choices)
    version = models.PositiveSmallIntegerField()
    language = models.CharField(max_length=8, default="en")
    child_level = models.BooleanField(default=False)
    change = models.CharField(max_length=8, choices=Change.choices, default=Change.MATERIAL)
    question = models.TextField()
    explanation = models.TextField()
    in_force_from = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["club", "purpose", "version", "language", "child_level"], name="one_wording_a_version"
            )
        ]

    def __str__(self) -> str:
        return f"{self.purpose} v{self.version}"


class PermissionEvent(ClubRow):
    """One answer: who gave it, in which capacity, on which wording, how it was evidenced.

    With `about_guardian` it is the athlete's answer about what that guardian may see of `purpose`, and no answer about
    the club's own use.
    """

    class Capacity(models.TextChoices):
        ATHLETE = "athlete", _("athlete")
        GUARDIAN = "guardian", _("guardian")

    class Answer(models.TextChoices):
        YES = "yes", _("yes")
        NO = "no", _("no")
        WITHDRAWN = "withdrawn", _("stopped")

    class Method(models.TextChoices):
        SCREEN = "screen", _("on screen")
        PAPER = "paper", _("signed paper")
        SPOKEN = "spoken", _("spoken")
        LINK = "link", _("with a one-time code")

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="permission_events")
    giver = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="permission_answers")
    capacity = models.CharField(max_length=8, choices=Capacity.choices)
    purpose = models.CharField(max_length=12, choices=Purpose.choices)
    answer = models.CharField(max_length=9, choices=Answer.choices)
    wording = models.ForeignKey(Wording, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    until = models.DateTimeField(null=True, blank=True)
    method = models.CharField(max_length=8, choices=Method.choices)
    evidence = models.PositiveSmallIntegerField()
    about_guardian = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.CASCADE, related_name="views_answered"
    )
    child_view = models.CharField(max_length=300, blank=True)
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    witness = models.CharField(max_length=120, blank=True)

    class Meta:
        indexes = [models.Index(fields=["athlete", "purpose", "at"], name="permission_events_by_athlete")]

    def __str__(self) -> str:
        return f"{self.purpose} {self.answer}"


class PermissionRecipient(ClubRow):
    """A person named in a yes: recipients of health and share are persons."""

    event = models.ForeignKey(PermissionEvent, on_delete=models.CASCADE, related_name="recipients")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")

    objects = NotedRows.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["event", "person"], name="named_once")]

    def __str__(self) -> str:
        return f"{self.person_id}"


class Restriction(ClubRow, Dated):
    """A purpose of an athlete whose data are only stored (also while an objection is weighed)."""

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="restrictions")
    purpose = models.CharField(max_length=12, choices=Purpose.choices)

    objects = NotedRows.as_manager()

    def __str__(self) -> str:
        return f"{self.purpose} of {self.athlete_id}"


class Objection(ClubRow, Dated):
    """An objection that was upheld, from a day on."""

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="objections")
    purpose = models.CharField(max_length=12, choices=Purpose.choices)

    objects = NotedRows.as_manager()

    def __str__(self) -> str:
        return f"{self.purpose} of {self.athlete_id}"


class Withholding(ClubRow, Dated):
    """A guardian's view of an athlete that the welfare lead withholds for the child's good."""

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="withholdings")
    guardian = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="withheld_from")
    set_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    objects = NotedRows.as_manager()

    def __str__(self) -> str:
        return f"{self.athlete_id} from {self.guardian_id}"
