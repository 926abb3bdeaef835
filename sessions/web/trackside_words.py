"""Sentences that the trackside page's scripts say; what stands in the page from the start is in its template."""

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from sessions.words import HOW, PLACES, PRESENCE, SHOWN, SHOWN_WITHIN

WORDS: dict[str, str | Promise] = {
    "strideOf": _("stride {number} of {total}"),
    "stride": _("stride {number}"),
    "rested": _("rested {time} (wants {wanted})"),
    "firstStride": _("not run yet today"),
    "goodAgain": _("Good: {point}"),
    "goodNoted": _("Good: {point}, noted"),
    "sayStrength": _("Say a strength"),
    "lookFor": _("Look for:"),
    "noPoint": _("no point yet"),
    "otherPoint": _("Other point"),
    "choosePoint": _("Choose point"),
    "notKept": _("Form is not recorded for {name}"),
    "toldWhen": _("{how} {when}, coach {name}"),
    "toldToday": _("{how} today, after stride {number}"),
    "toldInTalk": _("{how} today, in the talk before"),
    "then": _("then {shown}"),
    "noWords": _("No words yet"),
    "next": _("Then"),
    "ready": _("{name} rested"),
    "waits": _("{name} {time}"),
    "strideRested": _("stride {number}, rested"),
    "strideFirst": _("stride {number}"),
    "strideWaits": _("stride {number}, {time}"),
    "nobodyNext": _("Nobody else"),
    "undone": _("{what} undone"),
    "recorded": _("{name}: {what}"),
    "stopped": _("{name}: stopped for today"),
    "stoppedMark": _("stopped"),
    "doneMark": _("all strides run"),
    "allDone": _("Everybody has run"),
    "orderEmpty": _("Nobody here: roll call"),
    "adults": _("Adults here: {count}, wanted {wanted}"),
    "adultsLack": _("Adults here: {count} of {wanted}. Ask another adult whose check is in date."),
    "hereCount": _("{count} here"),
    "sayAgain": _("Say again: {words}"),
    "afterStride": _("After stride {number}"),
    "beforeStride": _("Before stride {number}"),
    "beforeFirst": _("In the talk before"),
    "wordsFor": _("Words for {name}: {point}"),
    "pointFor": _("Other point for {name}"),
    "strengthFor": _("What was good, {name}?"),
    "viewFor": _("{name} noticed"),
    "whereFor": _("Where does it hurt {name}?"),
    "call": _("Call {name}"),
    "mayCollect": _("may collect"),
    "kindRun": _("run"),
    "kindOwnView": _("own view"),
    "noBundle": _("The session could not be loaded. Nothing was lost; it is tried again."),
    "saved": _("saved"),
    "stop": _("STOP"),
    "allHere": _("All here"),
    "hereAndVisitors": _("{count} here, visitors: {visitors}"),
    "visitorHere": _("{name}, visitor: counted in"),
    "settled": _("This one counts: {what}"),
    "seconds": _("{time} s"),
    "started": _("{name} started"),
    "undo": _("Undo"),
    "moveUp": _("Move {name} up"),
    "moveDown": _("Move {name} down"),
    "leaveOut": _("Leave out"),
    "leaveOutName": _("Leave {name} out of the order"),
    "leftOutMark": _("left out"),
    "bringBack": _("Bring back"),
    "bringBackName": _("Bring {name} back"),
    "ends": _("Ends {time}, until {until}."),
    "overCut": _("{minutes} minutes over: cut {cut} strides."),
    "over": _("{minutes} minutes over: even without more strides."),
    "cut": _("Cut {cut} for each"),
    "lanes": _("At once: {count}"),
    "eyes": _("Watching coaches: {count}"),
    "laneOf": _("Lane {number}: {name}"),
    "talkTo": _("Talk to all, {count} here"),
    "toldAll": _("Told to all {count}: {words}"),
    "othersResult": _("coach {name} {shown}"),
    "otherEyes": _("{name}, stride {number}: {told}"),
    "thunderIn": _("Thunder: everybody in. The half hour counts from now."),
    "thunderAt": _("Thunder heard at {time}"),
    "thunderOut": _(
        "Everybody goes into a building or a car, not under a tree or a tent. "
        "Nobody goes out before {until}: {left} left."
    ),
    "thunderOver": _(
        "Half an hour has passed since the last thunder: now the coach decides whether anybody goes out. "
        "Local rules come first."
    ),
    "thunderTold": _("It stands on Today for everybody."),
    "thunderAlone": _(
        "On this phone alone: the others are told once it has signal and this page is open. Call everybody in by voice."
    ),
    "notKeptHere": _("This phone keeps no settings."),
}

KINDS: dict[str, str | Promise] = {
    "run": _("run"),
    "observation": _("result"),
    "cue": _("words"),
    "own_view": _("own view"),
    "stop": _("stop"),
    "pain": _("where it hurts"),
    "presence": _("roll call"),
}
UNDERSTOOD_ANSWERS: dict[str, str | Promise] = {"yes": _("yes"), "no": _("no"), "not_asked": _("not asked")}


def words_for_script() -> dict[str, object]:
    """All words of the page's scripts, in the reader's language."""
    tables = {
        "shown": SHOWN,
        "within": SHOWN_WITHIN,
        "how": HOW,
        "places": PLACES,
        "presence": PRESENCE,
        "kinds": KINDS,
    }
    said = {name: str(word) for name, word in WORDS.items()}
    return said | {name: {code: str(word) for code, word in table.items()} for name, table in tables.items()}
