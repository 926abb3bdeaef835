"""Features of form, which of them an athlete works on now, and what does not suit whom."""

from django.db import models

from athletes.models import ClubRow, EventGroup, Person


class Feature(ClubRow):
    """A feature of form as the club words it; `code` is what entries carry."""

    code = models.CharField(max_length=40)
    label = models.CharField(max_length=60)
    description = models.CharField(max_length=300, blank=True)
    groups = models.ManyToManyField(EventGroup, related_name="features", blank=True)
    retired_on = models.DateField(null=True, blank=True)
    order = models.PositiveSmallIntegerField(default=1)

    class Meta:
        ordering = ["order", "label"]
        constraints = [models.UniqueConstraint(fields=["club", "code"], name="one_feature_a_code")]

    def __str__(self) -> str:
        return self.label


class Focus(ClubRow):
    """A feature that an athlete works on, since a day and until another; the athlete may ask to stop."""

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="focuses")
    feature = models.ForeignKey(Feature, on_delete=models.CASCADE, related_name="+")
    since = models.DateField()
    until = models.DateField(null=True, blank=True)
    stop_asked_on = models.DateField(null=True, blank=True)
    set_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["since", "id"]

    def __str__(self) -> str:
        return f"{self.athlete_id} {self.feature_id}"


class Unsuited(ClubRow):
    """Words about a feature that do not suit an athlete, or, without words, the feature itself; no longer offered."""

    athlete = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    feature = models.ForeignKey(Feature, on_delete=models.CASCADE, related_name="+")
    words = models.CharField(max_length=200, blank=True)
    since = models.DateField()
    set_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-since", "id"]
        constraints = [models.UniqueConstraint(fields=["athlete", "feature", "words"], name="unsuited_once")]

    def __str__(self) -> str:
        return f"{self.athlete_id} {self.feature_id}"
