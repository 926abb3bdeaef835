"""What a roster file's page says: faults, questions and changes in words."""

from collections.abc import Mapping
from datetime import date

from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from athletes.core.roster_file.compare import Change
from athletes.core.roster_file.doubles import Why
from athletes.core.roster_file.faults import CellFault, FileFault

FILE_FAULTS: Mapping[str, str | Promise] = {
    FileFault.EMPTY: gettext_lazy("Nobody stands in this file: there is no row under the headings."),
    FileFault.TOO_LARGE: gettext_lazy("This file is too large, or unpacks to too much. Save the sheet alone as CSV."),
    FileFault.TOO_MANY_ROWS: gettext_lazy("More than %(said)s rows: read it in parts."),
    FileFault.TOO_MANY_COLUMNS: gettext_lazy("More than %(said)s columns: delete those that are no part of a roster."),
    FileFault.OLD_WORKBOOK: gettext_lazy("An old kind of workbook (.xls). Save it as .xlsx or CSV."),
    FileFault.BROKEN: gettext_lazy("This is no CSV or XLSX file, or it is damaged. Save it anew and try again."),
    FileFault.UNSAFE: gettext_lazy("This workbook declares what no spreadsheet writes. It was not opened."),
    FileFault.NO_HEADINGS: gettext_lazy(
        "No row of headings was found. Given name and family name each need a column with its heading."
    ),
    FileFault.DOUBLE_HEADING: gettext_lazy("Two columns mean the same, the second is headed “%(said)s”. Delete one."),
}
WORK_FAULTS: Mapping[str, str | Promise] = {
    "NOT_FOUND": gettext_lazy("Whoever read this file is no admin any more."),
    "RULES_FIRST": gettext_lazy("First a named person confirms the club's rules: see To do."),
}
CELL_FAULTS: Mapping[str, str | Promise] = {
    CellFault.MISSING: gettext_lazy("is empty: write it"),
    CellFault.TOO_LONG: gettext_lazy("is longer than %(said)s signs: shorten it"),
    CellFault.UNREADABLE: gettext_lazy("holds signs that cannot be read: type it anew"),
    CellFault.NOT_A_DAY: gettext_lazy("“%(said)s” is no day here: write it as 2012-04-03"),
    CellFault.DAY_TO_COME: gettext_lazy("“%(said)s” lies in the future"),
    CellFault.LONG_AGO: gettext_lazy("“%(said)s” is more than a hundred years ago"),
    CellFault.NOT_A_NUMBER: gettext_lazy("“%(said)s” is no telephone number: one number in a cell, nothing else"),
    CellFault.NOT_AN_EMAIL: gettext_lazy("“%(said)s” is no e-mail address: one in a cell, nothing else"),
    CellFault.NOT_A_COUNTRY: gettext_lazy("“%(said)s”: write the two letters of the country, as IE"),
    CellFault.NAME_MISSING: gettext_lazy("is empty, but “%(said)s” stands beside it: write the name"),
    CellFault.NO_NUMBER_FOR: gettext_lazy(
        "“%(said)s” has no number to ring: write it in this row, under Who answers and Number to ring"
    ),
    CellFault.NOT_A_KEY: gettext_lazy("“%(said)s” belongs to nobody here: empty the cell"),
    CellFault.KEY_TWICE: gettext_lazy("stands in row %(said)s too: empty it in one of them"),
    CellFault.SAYS_OTHERWISE: gettext_lazy("row %(said)s says otherwise about the same guardian: write the same"),
}
WHY: Mapping[str, str | Promise] = {
    Why.TWO_ALIKE: gettext_lazy("Several people here have this name and birth date."),
    Why.OTHER_BIRTH_DATE: gettext_lazy("Somebody of this name is here with another birth date."),
    Why.BIRTH_DATE_UNKNOWN: gettext_lazy("Somebody of this name is here; one of the birth dates is missing."),
    Why.NEAR_NAME: gettext_lazy("Somebody with nearly this name is here."),
    Why.TWICE_IN_FILE: gettext_lazy("The same name and birth date stand in row %(rows)s too."),
    Why.NEAR_IN_FILE: gettext_lazy("Nearly the same name and the same birth date stand in row %(rows)s."),
    Why.SAME_PERSON: gettext_lazy("Row %(rows)s is about the same person."),
}
CHANGES: Mapping[str, str | Promise] = {
    Change.GIVEN: gettext_lazy("given name"),
    Change.FAMILY: gettext_lazy("family name"),
    Change.BORN: gettext_lazy("birth date"),
    Change.SQUAD: gettext_lazy("squad"),
    Change.GROUPS: gettext_lazy("event groups"),
    Change.EMAIL: gettext_lazy("e-mail"),
    Change.PHONE: gettext_lazy("phone"),
    Change.GUARDIAN: gettext_lazy("guardian, not yet checked"),
    Change.GUARDIAN_PHONE: gettext_lazy("a guardian's phone"),
    Change.GUARDIAN_EMAIL: gettext_lazy("a guardian's e-mail"),
    Change.RING: gettext_lazy("number to ring"),
    Change.RING_PHONE: gettext_lazy("a number to ring"),
    Change.RING_RELATION: gettext_lazy("who answers is"),
    Change.COLLECT: gettext_lazy("who may collect"),
    Change.SINCE: gettext_lazy("member since"),
    Change.COUNTRY: gettext_lazy("home country"),
}


def file_fault(preview: Mapping[str, str]) -> str:
    """Why a whole file was not read."""
    if refused := preview.get("refused"):
        return str(FILE_FAULTS[refused]) % {"said": preview.get("said", "")}
    code = preview.get("failed", "")
    return str(WORK_FAULTS.get(code, _("It could not be read. Try again, or save the file anew.")))


def cell_named(fault: Mapping[str, str]) -> str:
    """A cell as a spreadsheet names it; where the file has no such column, the row."""
    return fault.get("cell") or _("row %(row)s") % {"row": fault["row"]}


def cell_fault(fault: Mapping[str, str]) -> str:
    return str(CELL_FAULTS[fault["why"]]) % {"said": fault["said"]}


def why_asked(line: Mapping[str, object]) -> str:
    rows = line["rows"]
    assert isinstance(rows, list)
    return str(WHY[str(line["why"])]) % {"rows": ", ".join(str(row) for row in rows)}


def change_words(change: Mapping[str, str]) -> str:
    """One change as a sentence's part: what, what is here, what the file says."""
    code = change["what"]
    if code == Change.MEMBER:
        day = shown_day(change["file"]) or _("today")
        return _("is a member again from %(day)s, and asked anew for every yes") % {"day": day}
    is_day = code in (Change.BORN, Change.SINCE)
    said = {name: shown_day(change[name]) if is_day else change[name] for name in ("here", "file")}
    said["what"] = str(CHANGES[code])
    if not change["here"]:
        return _("%(what)s: %(file)s") % said
    if code in (Change.GROUPS, Change.COLLECT):
        return _("%(what)s: %(file)s, and no longer %(here)s") % said
    return _("%(what)s: here %(here)s, in the file %(file)s") % said


def shown_day(text: str) -> str:
    """A day as a person reads it; nothing where there is none."""
    return date_format(date.fromisoformat(text), "j F Y") if text else ""
