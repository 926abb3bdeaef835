"""What a roster file would change: who is meant, what is asked, that a written roster comes back in unchanged."""

import csv
import io
from dataclasses import replace
from datetime import date
from uuid import UUID, uuid4

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.utils import get_column_letter

from athletes.core.roster_file.choosing import Options, as_json, open_names, settle
from athletes.core.roster_file.columns import Column
from athletes.core.roster_file.compare import Change, compare
from athletes.core.roster_file.dates import Order, read_day
from athletes.core.roster_file.doubles import Why
from athletes.core.roster_file.families import Families
from athletes.core.roster_file.faults import CellFault
from athletes.core.roster_file.here import Here, Known, KnownGuardian, KnownRing
from athletes.core.roster_file.lines import Guardian, Line, Ring, letters_of, read_lines
from athletes.core.roster_file.safe_text import clean, guarded, unguarded
from athletes.core.roster_file.table import read_table
from athletes.core.roster_file.writing import roster_csv, template_csv
from tests.sizes import examples

TODAY = date(2026, 11, 29)
BORN, OTHER = date(2012, 4, 3), date(2012, 3, 4)
NOELA = Known(
    uuid4(), "Noéla", "O'Brien", BORN, squad="U16", groups=("Sprint", "Hurdles"), phone="085 555 0101",
    since=date(2024, 9, 1),
    guardians=(KnownGuardian(uuid4(), "Greta", "O'Brien", "+353 85 555 0102", "greta@club.example"),),
    rings=(KnownRing(uuid4(), "Greta O'Brien", "mother", "+353 85 555 0102", may_collect=True),),
)  # fmt: skip
SAME = Line(
    2, "Noela", "O’Brien", born=BORN, squad="u16", groups=("Hurdles", "Sprint"), phone="(085) 555-0101",
    guardians=(Guardian("Greta", "OBrien", "00353855550102", "GRETA@club.example"),),
    rings=(Ring("OBrien Greta", "", "00353855550102"),), collect=("Greta O'Brien",), since=date(2024, 9, 1),
)  # fmt: skip


def compared(*lines, here=(NOELA,), adults=()):
    found = Here(
        tuple(here), (*adults, *(one for known in here for one in known.guardians)), ("U16",), ("Sprint", "Hurdles")
    )
    return compare(lines, found, families=Families(found.adults, lines))


def only(*lines, **more):
    return compared(*lines, **more).examined[-1]


def whats(one):
    return [difference.what for outcome in one.outcomes for difference in outcome.differences]


def test_other_spellings_of_the_same_are_no_change():
    one = only(replace(SAME, given="NOÉLA", family="O'BRIEN"))
    assert (one.who.known, one.who.why, whats(one)) == (NOELA, None, [])
    assert whats(only(SAME)) == [Change.GIVEN, Change.FAMILY]  # letters of the name itself are told


def test_what_a_line_says_nothing_about_stays():
    assert whats(only(Line(2, NOELA.given, NOELA.family, born=BORN))) == []


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (Line(2, "Noela", "O'Brien", born=OTHER), Why.OTHER_BIRTH_DATE),
        (Line(2, "Noela", "O'Brien"), Why.BIRTH_DATE_UNKNOWN),
        (Line(2, "Noelle", "O'Brien", born=BORN), Why.NEAR_NAME),
        (Line(2, "O'Brien", "Noela", born=BORN), Why.NEAR_NAME),
        (Line(2, "Noel", "O'Brien"), Why.NEAR_NAME),
        (Line(2, "Noelle", "O'Brien", born=OTHER), None),
        (Line(2, "Ivo", "O'Brien", born=BORN), None),
        (Line(2, "Ivo", "Tester"), None),
    ],
)
def test_who_could_be_somebody_else_is_asked_about(line, why):
    one = only(line)
    assert (one.who.why, one.who.known) == (why, None)
    assert [candidate.id for candidate in one.who.candidates] == ([NOELA.id] if why else [])


def test_two_of_a_name_and_birth_date_here_are_told_apart_by_an_admin_or_a_key():
    twin = replace(NOELA, id=uuid4())
    assert only(SAME, here=(NOELA, twin)).who.why is Why.TWO_ALIKE
    assert only(replace(SAME, key=twin.id), here=(NOELA, twin)).who.known == twin


def test_two_lines_of_one_file_about_the_same_are_asked_about():
    ivo = Line(2, "Ivo", "Tester", born=BORN)
    assert only(ivo, replace(ivo, row=3)).who.rows == (2,)
    assert only(ivo, replace(ivo, row=3)).who.why is Why.TWICE_IN_FILE
    assert only(ivo, replace(ivo, row=3, given="Iwo")).who.why is Why.NEAR_IN_FILE
    assert only(replace(SAME, key=NOELA.id), replace(SAME, row=3)).who.why is Why.TWICE_IN_FILE
    renamed = replace(SAME, key=NOELA.id, family="Quill")
    assert only(renamed, replace(SAME, row=3)).who.why is Why.SAME_PERSON


def test_a_key_of_nobody_here_is_a_fault():
    assert [fault.why for fault in compared(replace(SAME, key=uuid4())).faults] == [CellFault.NOT_A_KEY]


def test_what_replaces_and_what_only_adds():
    line = replace(
        SAME, given=NOELA.given, family=NOELA.family, email="n@club.example", phone="085 555 9999", groups=("Sprint",),
        guardians=(*SAME.guardians, Guardian("Tom", "Quill", "085 555 0103")),
    )  # fmt: skip
    [outcome] = only(line).outcomes
    assert {(one.what, one.here, one.replaces) for one in outcome.differences} == {
        (Change.EMAIL, "", False), (Change.PHONE, "085 555 0101", True), (Change.GROUPS, "Hurdles", True),
        (Change.GUARDIAN, "", False),
    }  # fmt: skip


def test_guardians_of_one_name_are_one_only_with_the_same_number_or_address():
    mor = Guardian("Mór", "Quill", "085 555 0101")
    lines = (
        Line(2, "A", "Quill", guardians=(mor,)),
        Line(3, "B", "Quill", guardians=(replace(mor, phone="0855550101", email="mor@club.example"),)),
        Line(4, "C", "Quill", guardians=(replace(mor, phone="", email="MOR@club.example"),)),
        Line(5, "D", "Quill", guardians=(replace(mor, phone=""),)),
        Line(6, "E", "Quill", guardians=(replace(mor, phone="085 555 0999"),)),
    )  # fmt: skip
    families = Families((), lines)
    keys = [families.key(line, 0) for line in lines]
    assert keys[0] == keys[1] == keys[2]
    assert len(set(keys)) == 3


def test_lines_that_contradict_each_other_about_a_guardian_are_a_fault():
    lines = [
        Line(2, "A", "Quill", guardians=(Guardian("Mór", "Quill", "085 555 0101", "mor@club.example"),)),
        Line(3, "B", "Quill", guardians=(Guardian("Mór", "Quill", "085 555 0102", "mor@club.example"),)),
    ]
    assert [(one.row, one.why, one.said) for one in compared(*lines).faults] == [(3, CellFault.SAYS_OTHERWISE, "2")]


def test_who_may_collect_can_be_rung():
    line = Line(2, "Ivo", "Tester", born=BORN, collect=("Nan",))
    assert [one.why for one in compared(line).faults] == [CellFault.NO_NUMBER_FOR]
    assert compared(replace(line, rings=(Ring("Nan", "", "085 555 0104"),))).faults == []


def test_new_names_are_asked_about_once_and_choices_settle_the_lines():
    lines = (
        Line(2, "Ivo", "Tester", groups=("Sprints", "sprint"), squad="U-16"),
        replace(SAME, row=3, phone="085 555 9"),
    )
    found = compared(*lines)
    assert (found.new_squads, found.new_groups) == (("U-16",), ("Sprints",))
    assert [*open_names(found, Options())] == [("squad", "U-16"), ("group", "Sprints")]
    said = Options.read({"groups": {"sprints": "Sprint"}, "squads": {"u 16": "U16"}, "order": "never", "values": "?"})
    assert [*open_names(found, said)] == []
    assert said.applied_to(lines[0]).groups == ("Sprint", "sprint")
    assert settle(found.examined, {}, Options()).open_rows == [3]
    kept = settle(found.examined, {"3": {"values": "here"}}, Options())
    assert [write.line.row for write in kept.writes] == [2]
    assert [write.line.row for write in settle(found.examined, {}, Options(values="file")).writes] == [2, 3]


def test_asked_lines_are_done_as_chosen():
    found = compared(Line(2, "Noela", "O'Brien", born=OTHER)).examined
    assert settle(found, {}, Options()).open_rows == [2]
    assert settle(found, {"2": {"who": str(NOELA.id)}}, Options()).open_rows == [2]  # whose birth date counts?
    [write] = settle(found, {"2": {"who": str(NOELA.id), "values": "file"}}, Options()).writes
    assert (write.outcome.known, [one.what for one in write.differences]) == (NOELA, [Change.GIVEN, Change.BORN])
    [write] = settle(found, {"2": {"who": "new"}}, Options()).writes
    assert write.outcome.known is None
    assert settle(found, {"2": {"who": "leave"}}, Options()).writes == []


@pytest.mark.parametrize(
    "payload",
    [
        "=1+1",
        "+1",
        "-1",
        "@SUM(1)",
        "\tx",
        "\rx",
        "＝1",
        "a;=1",
        "a,@x",
        "'=1",
        "''=1",
        " =1",
        "a|-1",
        "'t Hart",
        "a'b",
    ],
)
def test_no_cell_begins_a_formula_and_all_come_back(payload):
    """The signs: OWASP, CSV injection."""
    out = guarded(payload)
    for part in [out, *out.replace(";", ",").replace("|", ",").replace("\t", ",").split(",")]:
        assert not part.lstrip(" ").startswith(tuple("=+-@\t\r＝＋－＠"))
    assert unguarded(out) == payload


signs = st.text(st.characters(exclude_categories=("Cc", "Cs", "Cn", "Co")), max_size=20)
some_texts = signs.map(lambda text: clean(clean(text) + "a"))
names = signs.map(lambda text: clean(clean(text.replace(",", "").replace("(", "")) + "a"))
phones = st.from_regex(r"\+?[0-9]{5,12}", fullmatch=True)
days = st.dates(date(1930, 1, 1), TODAY)
rings = st.builds(KnownRing, st.uuids(), names, names, phones, st.booleans())
guardians = st.builds(
    KnownGuardian, st.uuids(), names, names, st.just("") | phones, st.just("") | st.just("a@b.example")
)
people = st.builds(
    Known, st.uuids(), some_texts, some_texts, st.none() | days, st.just(""), st.just("") | phones,
    st.sampled_from(["", "IE"]), st.sampled_from(["", "U16", "=U16"]),
    st.lists(st.sampled_from(["Sprint", "+Jump", "Long, far", "a; b"]), max_size=3, unique=True).map(tuple),
    days, st.just(True), st.lists(guardians, max_size=4).map(tuple), st.lists(rings, max_size=5).map(tuple),
)  # fmt: skip


@settings(max_examples=examples(400))
@given(st.lists(people, max_size=6, unique_by=lambda one: one.id))
def test_a_written_roster_comes_back_in_unchanged(club):
    """Whatever stands in it: names that are formulas, nobody's birth date, two alike."""
    club = [replace(one, rings=_told_apart(one.rings), guardians=_alone(one.guardians)) for one in club]
    content = roster_csv(club)
    if not club:
        return
    reading = read_lines(read_table(content), today=TODAY)
    assert (reading.faults, reading.two_ways, reading.not_read) == ([], [], ())
    here = Here(tuple(club), (), ("U16", "=U16"), ("Sprint", "+Jump", "Long, far", "a; b"))
    found = compare(reading.lines, here, families=Families((), reading.lines))
    assert (found.faults, found.new_squads, found.new_groups) == ([], (), ())
    assert as_json(found)["counts"] == {"add": 0, "change": 0, "same": len(club), "conflict": 0, "ask": 0, "back": 0}


def _told_apart(rings):
    """One number a name: two of a name with two numbers are told apart by nothing in a file."""
    return tuple({"".join(sorted(ring.name.casefold())): ring for ring in rings}.values())


def _alone(guardians):
    return tuple({"".join(sorted(one.name.casefold())): replace(one, email="") for one in guardians}.values())


def test_the_file_is_quoted_marked_and_ends_its_lines_as_rfc_4180_says():
    content = roster_csv([replace(NOELA, given="=cmd|' /C calc'!A0")])
    assert content.startswith(b"\xef\xbb\xbf")
    text = content.decode("utf-8-sig")
    assert text.count("\r\n") == 2 and text.endswith("\r\n")
    [row] = csv.DictReader(io.StringIO(text))
    assert row["Given name"] == "'=cmd|' /C calc'!A0"


def test_the_template_has_every_heading_but_the_key():
    headings = template_csv().decode("utf-8-sig").strip().replace('"', "").split(",")
    assert headings[:9] == ["Given name", "Family name", "Birth date", "Squad", "Event groups", "E-mail", "Phone",
                            "Guardian 1", "Guardian 1 phone"]  # fmt: skip
    assert headings[-3:] == ["Who may collect", "Member since", "Home country"]
    assert Column.KEY not in headings and len(headings) == 22


def test_guardians_and_numbers_stand_in_as_many_columns_as_the_file_has():
    text = "First name,Surname,Parent3 mobile,Carer 3,Mother,Emergency contact 12,Emergency phone 12,Contact 4\r\n"
    text += "Ivo,Tester,085 555 0103,Tom Quill,Ada,Nan,085 555 0112,Pat\r\n"
    reading = read_lines(read_table(text.encode()), today=TODAY)
    assert reading.not_read == ("Mother",)
    [fault] = reading.faults  # somebody who answers, without a column for the number
    assert (fault.column, fault.why, reading.cell(fault.row, fault.column)) == (
        "Number to ring 4", CellFault.MISSING, "",
    )  # fmt: skip
    [line] = read_lines(read_table(text.replace("Pat", "").encode()), today=TODAY).lines
    assert line.guardians == (Guardian("Tom", "Quill", "085 555 0103"),)
    assert line.rings == (Ring("Nan", "", "085 555 0112"),)
    other = replace(line, row=3, guardians=(replace(line.guardians[0], phone="085 555 0999", email="t@club.example"),))
    line = replace(line, guardians=(replace(line.guardians[0], email="t@club.example"),))
    assert [one.column for one in compared(line, other).faults] == ["Guardian 3 phone"]


def test_columns_have_a_spreadsheets_letters():
    """Against openpyxl, which writes spreadsheets."""
    assert [letters_of(place) for place in range(1000)] == [get_column_letter(number) for number in range(1, 1001)]


def test_who_is_on_trial_stays_so_and_who_left_comes_back_only_when_said():
    trial = replace(NOELA, is_trial=True, may_join=True, until=date(2026, 12, 20), since=date(2026, 11, 20))
    line = replace(SAME, given=NOELA.given, family=NOELA.family)
    found = compared(line, here=(trial,))
    assert as_json(found)["counts"]["same"] == 1
    assert settle(found.examined, {}, Options(values="file")).writes == []
    [write] = settle(found.examined, {"2": {"trial": "joins"}}, Options()).writes
    assert [one.what for one in write.differences] == [Change.JOIN]
    left = replace(NOELA, is_member=False, until=date(2026, 6, 30))
    found = compared(line, here=(left,))
    assert as_json(found)["counts"]["back"] == 1
    assert settle(found.examined, {}, Options(values="file")).open_rows == [2]
    assert settle(found.examined, {}, Options(back="away")).writes == []
    for choices, options in (({"2": {"who": str(left.id)}}, Options()), ({}, Options(back="back"))):
        settled = settle(found.examined, choices, options)
        assert (settled.has_joining, [one.what for one in settled.writes[0].differences]) == (True, [Change.MEMBER])


@pytest.mark.parametrize(
    ("cell", "day"),
    [
        ("2012-04-03", BORN), ("2012/4/3", BORN), ("3.4.2012", BORN), ("03-04-12", BORN), ("3 April 2012", BORN),
        ("Apr 3, 2012", BORN), ("3rd Apr. 2012", BORN), ("2012-04-03 00:00:00", BORN), ("13/4/2012", date(2012, 4, 13)),
        ("4/13/2012", None), ("3/4/30", date(1930, 4, 3)), (41002.0, BORN), (41002.5, None), ("41002", None),
    ],
)  # fmt: skip
def test_days(cell, day):
    """41002: days from 30 December 1899 to 3 April 2012 (ECMA-376 part 1, 18.17.4.1)."""
    try:
        found = read_day(cell, today=TODAY, day_zero=date(1899, 12, 30), order=Order.DAY_FIRST)
    except Exception as fault:
        found = None
        assert fault.fault is CellFault.NOT_A_DAY
    assert found == day


def test_keys_are_ids():
    assert isinstance(read_lines(read_table(roster_csv([NOELA])), today=TODAY).lines[0].key, UUID)
