"""The season plan: phases, and for each phase and group the weekly pattern."""

from uuid import UUID

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models import ClubRow, EventGroup, Person, Squad
from sessions.models.features import Feature
from sessions.models.venues import Venue, Weekday


class Kind(models.TextChoices):
    """Kinds of training session."""

    MEET = "meet", _("meet")
    HARD = "hard", _("hard")
    MODERATE = "moderate", _("moderate")
    TECHNIQUE = "technique", _("technique")
    EASY = "easy", _("easy")


class SeasonPlan(ClubRow):
    """A season: so many weeks from a Monday; `revision` grows with every change: nobody overwrites in silence."""

    name = models.CharField(max_length=80)
    first_monday = models.DateField()
    weeks = models.PositiveSmallIntegerField()
    revision = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-first_monday"]

    def __str__(self) -> str:
        return self.name


class Phase(ClubRow):
    """A stretch of weeks of the season with one aim."""

    class Aim(models.TextChoices):
        GENERAL = "general", _("general preparation")
        SPECIFIC = "specific", _("specific preparation")
        COMPETITION = "competition", _("competition")
        TAPER = "taper", _("taper")
        TRANSITION = "transition", _("transition")

    season = models.ForeignKey(SeasonPlan, on_delete=models.CASCADE, related_name="phases")
    aim = models.CharField(max_length=12, choices=Aim.choices)
    name = models.CharField(max_length=80, blank=True)
    first_week = models.PositiveSmallIntegerField()
    last_week = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["first_week"]
        constraints = [
            models.CheckConstraint(condition=models.Q(last_week__gte=models.F("first_week")), name="phase_has_weeks"),
        ]

    def __str__(self) -> str:
        return self.name or self.get_aim_display()


class Need(models.Model):
    """What a group's session needs: kind, length, lanes, and where and with whom it may be."""

    kind = models.CharField(max_length=10, choices=Kind.choices)
    also = models.JSONField(default=list, blank=True)
    duration_min = models.PositiveSmallIntegerField()
    priority = models.PositiveSmallIntegerField(default=2)
    lanes = models.PositiveSmallIntegerField(default=2)
    observers = models.PositiveSmallIntegerField(default=1)
    venues = models.ManyToManyField(Venue, related_name="+")
    coaches = models.ManyToManyField(Person, related_name="+")
    qualified = models.ManyToManyField(Person, related_name="+", blank=True)
    order = models.PositiveSmallIntegerField(default=1)

    class Meta:
        abstract = True


class PatternItem(ClubRow, Need):
    """One session of a group's weekly pattern in a phase: kind, length, usual slot, venues, coaches."""

    phase = models.ForeignKey(Phase, on_delete=models.CASCADE, related_name="pattern_items")
    group = models.ForeignKey(EventGroup, on_delete=models.CASCADE, related_name="pattern_items")
    usual_weekday = models.PositiveSmallIntegerField(choices=Weekday.choices, null=True, blank=True)
    usual_from = models.TimeField(null=True, blank=True)
    usual_until = models.TimeField(null=True, blank=True)

    class Meta:
        ordering = ["order", "id"]

    def __str__(self) -> str:
        return f"{self.kind} {self.duration_min} min"


class PhasePolicy(ClubRow):
    """What a group's rules are in one phase, where they are not the group's usual ones."""

    class Style(models.TextChoices):
        GENTLER = "gentler", _("gentler")
        OWN = "own", _("own")

    phase = models.ForeignKey(Phase, on_delete=models.CASCADE, related_name="policies")
    group = models.ForeignKey(EventGroup, on_delete=models.CASCADE, related_name="+")
    style = models.CharField(max_length=8, choices=Style.choices)
    policy = models.JSONField(default=dict, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["phase", "group"], name="one_policy_a_phase_and_group")]

    def __str__(self) -> str:
        return f"{self.style}"


class WeekModifier(ClubRow):
    """A week that is not like the others (exam, holiday, camp, travel) for the club, one squad, or a school year: those
    born from one day up to another."""

    class Reason(models.TextChoices):
        EXAM = "exam", _("exams")
        HOLIDAY = "holiday", _("holiday")
        CAMP = "camp", _("camp")
        TRAVEL = "travel", _("travel")

    season = models.ForeignKey(SeasonPlan, on_delete=models.CASCADE, related_name="modifiers")
    week = models.PositiveSmallIntegerField()
    reason = models.CharField(max_length=10, choices=Reason.choices)
    squad = models.ForeignKey(Squad, null=True, blank=True, on_delete=models.CASCADE, related_name="+")
    born_from = models.DateField(null=True, blank=True)
    born_until = models.DateField(null=True, blank=True)
    most_sessions = models.PositiveSmallIntegerField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.week} {self.reason}"

    @property
    def school_year(self) -> UUID | None:
        """Its own id where it is about those born from one day up to another: they count as a squad of their own."""
        return self.pk if self.born_from is not None else None


class SeasonStep(ClubRow):
    """One change of a season plan: who, when, and what stood there before, so that it can be undone.

    `before` and `after` hold the whole plan as `sessions.core.season_document` describes it.
    """

    class What(models.TextChoices):
        MADE = "made", _("made the season")
        CHANGED = "changed", _("changed the season")
        UNDONE = "undone", _("undid a change")

    season = models.ForeignKey(SeasonPlan, on_delete=models.CASCADE, related_name="steps")
    revision = models.PositiveIntegerField()
    what = models.CharField(max_length=8, choices=What.choices)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    before = models.JSONField(null=True)
    after = models.JSONField()
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-revision"]
        constraints = [models.UniqueConstraint(fields=["season", "revision"], name="one_season_step_a_revision")]

    def __str__(self) -> str:
        return f"{self.revision} {self.what}"


class GroupSettings(ClubRow):
    """A group's defaults: policy of the planner, strides, recovery, effort band, how many run at once, and which of the
    club's features it does not look for; the coach may change them."""

    group = models.OneToOneField(EventGroup, on_delete=models.CASCADE, related_name="settings")
    policy = models.JSONField(default=dict, blank=True)
    strides = models.PositiveSmallIntegerField(default=8)
    rest_s = models.PositiveSmallIntegerField(default=180)
    run_cm = models.PositiveIntegerField(default=6000)
    effort_low_pct = models.PositiveSmallIntegerField(null=True, blank=True)
    effort_high_pct = models.PositiveSmallIntegerField(null=True, blank=True)
    effort_words = models.CharField(max_length=80, blank=True)
    strides_a_feature = models.PositiveSmallIntegerField(default=3)
    at_once = models.PositiveSmallIntegerField(default=1)
    left_out = models.ManyToManyField(Feature, related_name="left_out_by", blank=True)

    def __str__(self) -> str:
        return f"{self.group_id}"
