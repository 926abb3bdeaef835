"""Published advice on how much: before a main meet, after weeks away, in the first heat, over a year. Only offered.

None of it is a diagnosis or a score; pain and illness are a matter for a doctor or physiotherapist and come first.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

TAPER_CUTS = (Fraction(41, 100), Fraction(60, 100))
"""Training volume down 41 to 60 % over about two weeks, intensity and number of sessions kept (Bosquet, Montpetit,
Arvisais, Mujika 2007, Med Sci Sports Exerc 39(8):1358-1365)."""
TAPER_WEEKS = 2
TAPER_FROM_AGE = 16
"""Adults and older juniors: the studies are of trained grown-ups; the age is common practice, no source."""

AWAY_DAYS = 14
RETURN_CUTS = (Fraction(50, 100), Fraction(30, 100), Fraction(20, 100), Fraction(10, 100))
"""After two weeks or more away the volume is 50, 30, 20, 10 % lower in weeks 1 to 4 (Caterisano et al. 2019, Strength
Cond J 41(3):1-23; the cuts by week are from memory)."""

HEAT_DAYS = 14
"""The first so many days of training in heat are gradual (Casa et al. 2009, J Athl Train 44(3):332-333: 14 days; from
memory). A caution, no plan."""


@dataclass(frozen=True, slots=True)
class MinutesSpan:
    """Minutes a week: the smaller cut first, then the larger one."""

    most: Fraction
    least: Fraction


def taper_minutes(usual_min: int) -> MinutesSpan:
    """What is left of the usual minutes a week in a taper. Raises ValueError below 0."""
    if usual_min < 0:
        raise ValueError(usual_min)
    small, large = TAPER_CUTS
    return MinutesSpan(usual_min * (1 - small), usual_min * (1 - large))


def tapered(duration_min: int) -> int:
    """A session's minutes in the middle of the taper's span, on full five minutes, at least ten."""
    span = taper_minutes(duration_min)
    return max(10, 5 * round((span.most + span.least) / 10))


def may_taper(age: int | None) -> bool:
    """Whether the reduction is offered at an age; where it is not known, not."""
    return age is not None and age >= TAPER_FROM_AGE


def return_amounts(usual: int) -> list[int]:
    """What is left of a usual amount (metres, minutes) in weeks 1 to 4 after weeks away, rounded down."""
    return [int(usual * (1 - cut)) for cut in RETURN_CUTS]


def days_away(days: Iterable[date], today: date) -> int | None:
    """Full days between the last day of training and `today`; None where there was none. Only this club's days."""
    before = [day for day in days if day < today]
    return (today - max(before)).days - 1 if before else None


def is_coming_back(days: Iterable[date], today: date) -> bool:
    """Whether the last 28 days hold a gap of 14 days or more without training, after training before it."""
    seen = sorted({day for day in days if day <= today})
    ends = [*seen[1:], today]
    gaps = [pair for pair in zip(seen, ends, strict=False) if (pair[1] - pair[0]).days - 1 >= AWAY_DAYS]
    return any(after > today - timedelta(weeks=len(RETURN_CUTS)) for _before, after in gaps)


@dataclass(frozen=True, slots=True)
class YearHere:
    """What this club saw of an athlete: months with training in the last twelve, days off in the last seven."""

    months_on: int
    days_off: int


def year_here(days: Iterable[date], today: date) -> YearHere:
    """Calendar months with a training day among the twelve up to and with this one, and days without training
    among the seven up to and with today."""
    seen = {day for day in days if day <= today}
    this_month = today.year * 12 + today.month
    months = {day.year * 12 + day.month for day in seen}
    week = {today - timedelta(days=number) for number in range(7)}
    return YearHere(sum(1 for month in months if month > this_month - 12), len(week - seen))
