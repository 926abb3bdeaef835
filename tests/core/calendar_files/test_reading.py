"""Calendar files from elsewhere: published examples, the clock's gaps, bounds, one bad event among good ones."""

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import icalendar
import pytest
import recurring_ical_events
from hypothesis import given, settings
from hypothesis import strategies as st

from sessions.core.calendar_files.reading import (
    MOST_BYTES,
    MOST_EVENTS,
    MOST_OCCURRENCES,
    FileRead,
    NotACalendar,
    Refusal,
    read_calendar,
)
from tests.sizes import LONG, examples

NEW_YORK = "America/New_York"
DUBLIN = ZoneInfo("Europe/Dublin")


def event(*lines: str, uid: str = "one") -> str:
    return "\r\n".join(["BEGIN:VEVENT", f"UID:{uid}", "DTSTAMP:19970901T000000Z", *lines, "END:VEVENT", ""])


def calendar(*events: str, head: str = "") -> bytes:
    return f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\n{head}{''.join(events)}END:VCALENDAR\r\n".encode()


def read(*events: str, first: str = "2027-01-01", head: str = "", zone: ZoneInfo = DUBLIN) -> FileRead:
    return read_calendar(calendar(*events, head=head), zone=zone, first_day=date.fromisoformat(first))


def starts(found: FileRead, zone: str = "Europe/Dublin") -> list[str]:
    return [f"{one.starts_at.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M}" for one in found.occurrences]


# RFC 5545, section 3.8.5.3: America/New_York, 09:00; start, rule, what the text lists, and since when it is looked at.
PUBLISHED = [
    ("19970902", "FREQ=DAILY;COUNT=10", "9/2 9/3 9/4 9/5 9/6 9/7 9/8 9/9 9/10 9/11"),
    (
        "19970902", "FREQ=WEEKLY;UNTIL=19971224T000000Z",
        "9/2 9/9 9/16 9/23 9/30 10/7 10/14 10/21 10/28 11/4 11/11 11/18 11/25 12/2 12/9 12/16 12/23",
    ),
    (
        "19970901", "FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR",
        "9/1 9/3 9/5 9/15 9/17 9/19 9/29 10/1 10/3 10/13 10/15 10/17 10/27 10/29 10/31 11/10 11/12 11/14 11/24 11/26 "
        "11/28 12/8 12/10 12/12 12/22",
    ),
    ("19970902", "FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH", "9/2 9/4 9/16 9/18 9/30 10/2 10/14 10/16"),
    ("19970805", "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO", "8/5 8/10 8/19 8/24"),
    ("19970805", "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU", "8/5 8/17 8/19 8/31"),
    ("20070115", "FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5", "1/15 1/30 2/15 3/15 3/30"),
    ("19970904", "FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3", "9/4 10/7 11/6"),
    ("19970929", "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2", "9/29 10/30 11/27 12/30 1/29 2/26 3/30"),
    ("19970902", "FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13", "2/13 3/13 11/13"),
]  # fmt: skip


@pytest.mark.parametrize(("start", "rule", "listed"), PUBLISHED, ids=[rule for _, rule, _ in PUBLISHED])
def test_the_published_examples(start: str, rule: str, listed: str) -> None:
    left_out = [f"EXDATE;TZID={NEW_YORK}:{start}T090000"] if "BYMONTHDAY=13" in rule else []
    lines = (f"DTSTART;TZID={NEW_YORK}:{start}T090000", f"RRULE:{rule}", *left_out)
    found = starts(read(event(*lines), first=f"{start[:4]}-{start[4:6]}-01"), NEW_YORK)
    wanted = listed.split()
    assert [f"{int(one[5:7])}/{int(one[8:10])}" for one in found[: len(wanted)]] == wanted
    assert {one[11:] for one in found} == {"09:00"}
    if "COUNT" in rule or "UNTIL" in rule:
        assert len(found) == len(wanted)


@pytest.mark.parametrize(
    ("said", "instant"),
    [("20071104T013000", "2007-11-04T05:30"), ("20070311T023000", "2007-03-11T07:30")],
    ids=["shown twice: the first", "left out: counted on from before"],
)
def test_a_time_said_in_the_hour_of_a_change(said: str, instant: str) -> None:
    """RFC 5545, 3.3.5, its own examples."""
    found = read(event(f"DTSTART;TZID={NEW_YORK}:{said}", "DURATION:PT1H"), first="2007-01-01")
    assert [f"{one.starts_at:%Y-%m-%dT%H:%M}" for one in found.occurrences] == [instant]


def test_a_rule_leaves_out_what_the_clock_leaves_out_and_does_not_count_it() -> None:
    """RFC 5545, 3.3.10: daily at 02:30, eight times over the change of 8 March 2026, ends on the 11th."""
    lines = (f"DTSTART;TZID={NEW_YORK}:20260303T023000", "DURATION:PT30M", "RRULE:FREQ=DAILY;COUNT=8")
    found = starts(read(event(*lines), first="2026-03-01"), NEW_YORK)
    assert [one[8:10] for one in found] == ["03", "04", "05", "06", "07", "09", "10", "11"]
    floating = read(
        event("DTSTART:20260303T023000", "RRULE:FREQ=DAILY;COUNT=8"), first="2026-03-01", zone=ZoneInfo(NEW_YORK)
    )
    assert [one[8:10] for one in starts(floating, NEW_YORK)] == ["03", "04", "05", "06", "07", "09", "10", "11"]


@pytest.mark.parametrize(
    ("zone", "first", "utc"),
    [
        (NEW_YORK, "20260303", ["2026-03-03T23:00", "2026-03-10T22:00", "2026-03-17T22:00"]),
        ("Europe/London", "20260324", ["2026-03-24T18:00", "2026-03-31T17:00", "2026-04-07T17:00"]),
        ("Europe/London", "20261020", ["2026-10-20T17:00", "2026-10-27T18:00", "2026-11-03T18:00"]),
    ],
)
def test_wall_time_is_kept_over_both_changes(zone: str, first: str, utc: list[str]) -> None:
    lines = (f"DTSTART;TZID={zone}:{first}T180000", "DURATION:PT1H", "RRULE:FREQ=WEEKLY;COUNT=3")
    found = read(event(*lines), first=f"{first[:4]}-{first[4:6]}-01")
    assert [f"{one.starts_at:%Y-%m-%dT%H:%M}" for one in found.occurrences] == utc


def test_moved_left_out_added_and_cancelled_ones() -> None:
    series = event(
        "SEQUENCE:2", "SUMMARY:Club evening", "DTSTART;TZID=Europe/Dublin:20270105T180000", "DURATION:PT1H",
        "RRULE:FREQ=WEEKLY;COUNT=5", "EXDATE;TZID=Europe/Dublin:20270119T180000",
        "RDATE;TZID=Europe/Dublin:20270121T170000",
    )  # fmt: skip
    moved = event(
        "SUMMARY:Moved", "RECURRENCE-ID;TZID=Europe/Dublin:20270112T180000",
        "DTSTART;TZID=Europe/Dublin:20270113T190000", "DURATION:PT2H",
    )  # fmt: skip
    off = event(
        "STATUS:CANCELLED", "RECURRENCE-ID;TZID=Europe/Dublin:20270126T180000",
        "DTSTART;TZID=Europe/Dublin:20270126T180000", "DURATION:PT1H",
    )  # fmt: skip
    found = read(series, moved, off)
    assert starts(found) == [
        "2027-01-05 18:00", "2027-01-13 19:00", "2027-01-21 17:00", "2027-01-26 18:00", "2027-02-02 18:00"
    ]  # fmt: skip
    assert [one.title for one in found.occurrences][:3] == ["Club evening", "Moved", "Club evening"]
    assert [one.is_cancelled for one in found.occurrences] == [False, False, False, True, False]
    assert found.occurrences[1].instance == "20270112T180000Z"
    assert len({one.instance for one in found.occurrences}) == 5
    assert (found.events, found.refused) == (3, ())


def test_all_day_and_floating_times_are_the_clubs() -> None:
    found = read(
        event("DTSTART;VALUE=DATE:20270328", "DTEND;VALUE=DATE:20270330", uid="camp"),
        event("DTSTART:20270401T180000", "DTEND:20270401T193000", uid="floating"),
    )
    camp, floating = found.occurrences
    assert (camp.is_all_day, camp.ends_at - camp.starts_at) == (True, timedelta(hours=47)), "the clock goes forward"
    assert starts(found) == ["2027-03-28 00:00", "2027-04-01 18:00"]
    assert floating.starts_at == datetime(2027, 4, 1, 17, tzinfo=UTC)


def test_a_zone_that_the_file_describes_is_followed_and_never_mixed_up_with_another_files() -> None:
    def described(offset: str) -> str:
        return (
            "BEGIN:VTIMEZONE\r\nTZID:Here\r\nBEGIN:STANDARD\r\nDTSTART:19700101T000000\r\n"
            f"TZOFFSETFROM:{offset}\r\nTZOFFSETTO:{offset}\r\nEND:STANDARD\r\nEND:VTIMEZONE\r\n"
        )

    one = event("DTSTART;TZID=Here:20270105T180000", "DURATION:PT1H")
    hours = [read(one, head=described(offset)).occurrences[0].starts_at.hour for offset in ("+0300", "-0500")]
    assert hours == [15, 23]
    assert [no.because for no in read(one).refused] == [Refusal.UNKNOWN_ZONE]


@pytest.mark.parametrize(
    ("lines", "because"),
    [
        (["SUMMARY:No start"], Refusal.NO_START),
        (["DTSTART:20271345T180000"], Refusal.UNREADABLE),
        (["DTSTART:20270105T180000Z", "RRULE:FREQ=SECONDLY"], Refusal.TOO_FINE),
        (["DTSTART:20270105T180000Z", "RRULE:FREQ=MINUTELY;COUNT=3"], Refusal.TOO_FINE),
        (["DTSTART:20270105T180000Z", "RRULE:FREQ=HOURLY"], Refusal.TOO_FINE),
        (["DTSTART:20270105T180000Z", "RRULE:FREQ=DAILY;BYHOUR=1,2,3,4,5;BYMINUTE=1,2,3,4,5"], Refusal.TOO_FINE),
        (["DTSTART:19270105T180000Z", "RRULE:FREQ=DAILY"], Refusal.TOO_OLD),
        (["DTSTART:20270105T180000Z", "RRULE:FREQ=FORTNIGHTLY"], Refusal.UNREADABLE),
        (["DTSTART:20270105T180000Z", "RRULE:UNTIL=20280101"], Refusal.UNREADABLE),
        (["DTSTART:20270105T180000Z", "DTEND:20270105T170000Z"], Refusal.ENDS_BEFORE_START),
        (["DTSTART;TZID=Nowhere/Town:20270105T180000"], Refusal.UNKNOWN_ZONE),
    ],
)
def test_a_bad_event_is_told_and_sinks_nothing(lines: list[str], because: Refusal) -> None:
    good = event("DTSTART:20270106T180000Z", "DURATION:PT1H", "SUMMARY:Good", uid="good")
    found = read(event("SUMMARY:Bad one", *lines, uid="bad"), good)
    assert [one.title for one in found.occurrences] == ["Good"]
    assert [(no.number, no.because) for no in found.refused] == [(1, because)]
    assert found.refused[0].title in ("Bad one", "No start")
    assert found.events == 1


def test_one_that_nothing_closes_does_not_swallow_the_next() -> None:
    good = event("DTSTART:20270106T180000Z", "DURATION:PT1H", "SUMMARY:Good", uid="good")
    found = read("BEGIN:VEVENT\r\nSUMMARY:Open\r\nDTSTART:20270101T100000Z\r\n", good)
    assert [one.title for one in found.occurrences] == ["Good"]
    assert [(no.title, no.because) for no in found.refused] == [("Open", Refusal.NOT_CLOSED)]


def test_endless_rules_and_large_files_are_bounded() -> None:
    found = read(event("DTSTART:20260101T180000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY"))
    assert (len(found.occurrences), found.is_cut) == (MOST_OCCURRENCES, True)
    weekly = read(event("DTSTART:20260101T180000Z", "DURATION:PT1H", "RRULE:FREQ=WEEKLY"))
    assert (len(weekly.occurrences), weekly.is_cut) == (78, False)  # 550 days hold 78 Thursdays from 7 January 2027 on
    many = [event("DTSTART:19990101T180000Z", uid=str(number)) for number in range(MOST_EVENTS + 2)]
    assert [no.because for no in read(*many).refused] == [Refusal.TOO_MANY_EVENTS] * 2
    for data, is_too_large in ((b"A" * (MOST_BYTES + 1), True), (b"Name;Date\r\n", False), (b"", False)):
        with pytest.raises(NotACalendar) as told:
            read_calendar(data, zone=DUBLIN, first_day=date(2027, 1, 1))
        assert told.value.is_too_large is is_too_large


def test_a_file_that_calls_off_calls_off_all_and_a_cut_character_is_whole() -> None:
    data = calendar(event("DTSTART:20270105T180000Z", "SUMMARY:Läufe"), head="METHOD:CANCEL\r\n")
    cut = data.replace("ä".encode(), b"\xc3\r\n \xa4")
    [one] = read_calendar(cut, zone=DUBLIN, first_day=date(2027, 1, 1)).occurrences
    assert (one.title, one.is_cancelled) == ("Läufe", True)


@settings(max_examples=examples(200))
@given(st.binary(max_size=300), st.integers(0, 400))
def test_whatever_stands_in_a_file_nothing_breaks(noise: bytes, place: int) -> None:
    whole = calendar(event("DTSTART:20270105T180000Z", "RRULE:FREQ=WEEKLY;COUNT=3", "SUMMARY:x"))
    place = min(place, len(whole))
    try:
        read_calendar(whole[:place] + noise + whole[place:], zone=DUBLIN, first_day=date(2027, 1, 1))
    except NotACalendar:
        assert b"BEGIN:VCALENDAR" not in (whole[:place] + noise + whole[place:]).split(b"\r\n")[0] or place < 20


PACKAGES = Path(icalendar.__file__).parent.parent
FILES = sorted([*(PACKAGES / "icalendar").rglob("*.ics"), *(PACKAGES / "recurring_ical_events").rglob("*.ics")])
BERLIN = ZoneInfo("Europe/Berlin")
# Where the second package sees something else, and why that is right.
EXCEPTIONS = {
    "end_before_start_event.ics": "ends before it starts: refused here, turned round there",
    "bad_rrule_missing_until_event.ics": "a rule that cannot be read: refused here, the file is refused there",
    "issue_243_recurrence_id_is_not_identical_to_dtstart.ics": "daily without an end: 500 times at most",
    "one_day_event_repeat_every_day.ics": "daily without an end: 500 times at most",
}


def test_there_are_as_many_files_as_the_packages_bring() -> None:
    assert len(FILES) == 258


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_the_files_of_the_packages(path: Path) -> None:
    """No exception; and for those that come with the package for occurrences, its own occurrences."""
    data, seen = path.read_bytes(), "recurring_ical_events" in path.parts
    for first in (date(2019, 1, 1), date(2025, 1, 1))[: 2 if LONG else 1]:
        try:
            found = read_calendar(data, zone=BERLIN, first_day=first)
        except NotACalendar:
            assert b"BEGIN:VCALENDAR" not in data.upper()
            return
        ours = {(one.uid, one.starts_at, one.ends_at) for one in found.occurrences}
        if not seen:
            continue
        if path.name in EXCEPTIONS:
            assert found.refused or found.is_cut or first.year == 2019
            if found.is_cut:
                assert ours < theirs(data, first)
            continue
        assert ours == theirs(data, first)


def theirs(data: bytes, first: date) -> set[tuple[str, datetime, datetime]]:
    begins = datetime(first.year, first.month, first.day, tzinfo=BERLIN)
    found = set()
    for one in icalendar.Calendar.from_ical(data, multiple=True):
        for component in recurring_ical_events.of(one).between(begins, begins + timedelta(days=550)):
            found.add((str(component.get("UID", "")), *(instant(component[name].dt) for name in ("DTSTART", "DTEND"))))
    return found


def instant(moment: date) -> datetime:
    if not isinstance(moment, datetime):
        moment = datetime(moment.year, moment.month, moment.day)
    return (moment if moment.tzinfo else moment.replace(tzinfo=BERLIN)).astimezone(UTC)
