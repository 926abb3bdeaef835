"""What each code of the permission decision says to a person: one sentence for adults, one for children.

A page chooses whom it tells: guardians never see each other's answers, so the sentences name nobody.
"""

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from athletes.core.permissions import Code


@dataclass(frozen=True, slots=True)
class Words:
    """One sentence each, in the words of an adult and of a twelve-year-old."""

    adult: str | Promise
    child: str | Promise


WORDS: dict[Code, Words] = {
    Code.NEVER: Words(
        _("The club does not use data for this, ever."),
        _("The club never does this."),
    ),
    # use
    Code.OWN_DATA: Words(
        _("This is the athlete's own data."),
        _("This is about you, so you can see it."),
    ),
    Code.LOG_REVIEW: Words(
        _("Reviewing who looked is part of this role."),
        _("This person checks who looked at things about you."),
    ),
    Code.NOT_NEEDED_FOR_ROLE: Words(
        _("This is not needed in this role."),
        _("This person does not need to see it."),
    ),
    Code.RESTRICTED: Words(
        _("For the moment this is only stored, not used."),
        _("The club keeps this but does not use it just now."),
    ),
    Code.MEMBERSHIP_ENDED: Words(
        _("The athlete has left the club."),
        _("You are not in the club any more."),
    ),
    Code.ASSIGNMENT_ENDED: Words(
        _("The assignment to this athlete's group has ended, or a check has run out."),
        _("This coach does not coach your group any more."),
    ),
    Code.TOO_FEW: Words(
        _("Too few people to show a number without pointing at somebody."),
        _("Too few people: you could guess who it is."),
    ),
    Code.DIFFERENCING: Words(
        _("Two overlapping groups would give somebody away, so this number is not shown."),
        _("Comparing two groups would show who it is, so the number stays hidden."),
    ),
    Code.ANONYMOUS: Words(
        _("A number of many people in which nobody can be singled out."),
        _("A number about many people: nobody can tell which one is you."),
    ),
    Code.VITAL_INTERESTS: Words(
        _("Opened in an emergency; it is logged and the guardians are told."),
        _("It was opened because you needed help and could not speak."),
    ),
    Code.NOT_AN_EMERGENCY: Words(
        _("Nothing was opened. If the athlete cannot speak, tick that and send again; if the athlete can, please ask."),
        _("You can answer for yourself, so people have to ask you."),
    ),
    Code.NOTICE_FIRST: Words(
        _("First the club has to show its notice to the family."),
        _("First the club has to tell you and your family what it writes down."),
    ),
    Code.PARENT_CONSENT_US: Words(
        _("First a guardian with the right to decide has to say yes on a signed form."),
        _("First a parent or guardian has to say yes."),
    ),
    Code.OBJECTION_UPHELD: Words(
        _("Hidden after an objection that was upheld."),
        _("Somebody objected and was right, so it is hidden."),
    ),
    Code.MEMBERSHIP_BASIS: Words(
        _("Needed for training in the club; the notice says so."),
        _("Your coaches need this to train you."),
    ),
    Code.ATHLETE_SAYS_NO: Words(
        _("The athlete has said no."),
        _("You said no, so it stays off."),
    ),
    Code.EXPIRED: Words(
        _("The permission has run out and is asked anew."),
        _("Your answer is too old, so you are asked again."),
    ),
    Code.NEW_WORDING: Words(
        _("What is asked has changed, so it is asked anew."),
        _("The question has changed, so you are asked again."),
    ),
    Code.GUARDIAN_SAYS_NO: Words(
        _("Not everybody who has a say agrees, so it stays off."),
        _("Not all the grown-ups who decide with you agree, so it stays off."),
    ),
    Code.NO_GUARDIAN_CONSENT: Words(
        _("The yes of a guardian with the right to decide is missing."),
        _("A parent or guardian has to say yes too."),
    ),
    Code.EVIDENCE_TOO_WEAK: Words(
        _("An admin has to see the signed form, or meet the person, first."),
        _("Somebody from the club has to see the signed form first."),
    ),
    Code.JOINT_NEEDED: Words(
        _("Guardian and child have to say yes together; the child has not answered."),
        _("You and a parent or guardian have to say yes together. You have not answered yet."),
    ),
    Code.NO_CONSENT: Words(
        _("The athlete has not said yes."),
        _("You have not said yes, so it stays off."),
    ),
    Code.CONFIRM_OVERDUE: Words(
        _("The athlete is old enough to decide and has not confirmed in time."),
        _("You are old enough to decide now. It stays off until you answer."),
    ),
    Code.SUSPENDED_AT_18: Words(
        _("Hidden since the 18th birthday until the athlete answers."),
        _("You are 18: it stays hidden until you answer."),
    ),
    Code.NOT_A_NAMED_RECIPIENT: Words(
        _("The permission does not name this person."),
        _("This person is not on the list of people who may see it."),
    ),
    Code.CONTINUES_PENDING: Words(
        _("A guardian's yes goes on while the athlete, now old enough, is asked."),
        _("A parent or guardian said yes. Now it is your turn to decide."),
    ),
    Code.CONSENT_OK: Words(
        _("Allowed, by those who decide about it."),
        _("Those who decide about it said yes. It can be stopped at any time."),
    ),
    # who speaks
    Code.OTHER_CONTROLLER: Words(
        _("This answer was given to another club: it is history here and is asked anew."),
        _("You said this to another club. This club has to ask you itself."),
    ),
    Code.NOT_ENTITLED: Words(
        _("This person cannot decide this for the athlete."),
        _("This person cannot decide this for you."),
    ),
    Code.WRONG_SESSION: Words(
        _("Please sign in under your own name to answer."),
        _("Each person has to answer with their own sign-in."),
    ),
    Code.GUARDIAN_UNVERIFIED: Words(
        _("The club has not yet seen that this person is a guardian; an admin can do that in person."),
        _("The club still has to check who this grown-up is."),
    ),
    Code.GUARDIAN_NO_AUTHORITY: Words(
        _("This person does not have the right to decide this; an admin knows about the wish."),
        _("This grown-up may not decide this for you."),
    ),
    Code.ADULT_DECIDES: Words(
        _("The athlete is 18 or over and decides alone."),
        _("From 18 you decide alone."),
    ),
    # answer, withdraw
    Code.NOT_ASKED: Words(
        _("This belongs to membership and is not asked."),
        _("This is part of being in the club, so nobody asks for a yes."),
    ),
    Code.ASSENT_ONLY: Words(
        _("Kept as the child's own view; a guardian decides."),
        _("Your view is written down. A parent or guardian has to say yes too."),
    ),
    Code.PAPER_RECORDED: Words(
        _("Entered from the signed paper."),
        _("Your paper has been entered."),
    ),
    Code.ATHLETE_PART: Words(
        _("The athlete's answer is recorded."),
        _("Your answer is saved."),
    ),
    Code.GUARDIAN_PART: Words(
        _("The guardian's answer is recorded."),
        _("The answer of your parent or guardian is saved."),
    ),
    Code.OBJECTION_ROUTE: Words(
        _("This belongs to membership: you can object, ask to have it restricted, or leave."),
        _("This is part of being in the club. You can object to it and somebody looks at it."),
    ),
    Code.STOP_NOW: Words(
        _("Stopped, at once."),
        _("It has stopped, right now."),
    ),
    # export, erase
    Code.ON_BEHALF: Words(
        _("Allowed on behalf of the athlete."),
        _("A parent or guardian may do this for you."),
    ),
    Code.WITHHELD_FOR_CHILD: Words(
        _("This is not shown here; please speak to the club's welfare lead in person."),
        _("This is not shown to that person."),
    ),
    Code.HUMAN_DECIDES: Words(
        _("A person of the club weighs this and answers."),
        _("Somebody in the club thinks about it first and asks you."),
    ),
    Code.PROOF_KEPT: Words(
        _("Kept as proof for its period; after that nothing leads back to the person."),
        _("The club has to keep this for a while to show that it did things right."),
    ),
    Code.LEGAL_HOLD: Words(
        _("Kept for a legal reason, hidden meanwhile and reviewed every 90 days."),
        _("The club has to keep this for now. It is hidden."),
    ),
    Code.ATHLETE_MUST_AGREE: Words(
        _("The athlete is old enough to be asked and has to agree."),
        _("You are old enough: this needs your yes."),
    ),
    Code.ERASE: Words(
        _("It is erased."),
        _("It is taken away for good."),
    ),
    # the guardian's view, withhold
    Code.ATHLETE_SHARES: Words(
        _("The adult athlete shares this."),
        _("You are 18 and let this person see it."),
    ),
    Code.CARER_VIEW: Words(
        _("Whoever looks after the child sees when and where it trains."),
        _("The grown-up who looks after you sees when and where you train."),
    ),
    Code.PARENTAL_VIEW: Words(
        _("A guardian may see this; the athlete is shown that."),
        _("Your parent or guardian can see this."),
    ),
    Code.WELFARE_LEAD: Words(
        _("The welfare lead decides this."),
        _("The club's welfare lead decides this."),
    ),
    # message
    Code.REPLY_ADDS_COPY: Words(
        _("The answer goes to the whole thread, its copy included."),
        _("Another grown-up reads along."),
    ),
    Code.ADULTS: Words(
        _("Between adults no copy is needed."),
        _("Grown-ups can write to each other without a copy."),
    ),
    Code.COPY_AFTERWARDS: Words(
        _("Sent at once, as an emergency; the copy goes out with it."),
        _("It is urgent, so it comes at once. Another grown-up gets it too."),
    ),
    Code.OPEN_COPY_NEEDED: Words(
        _("An adult does not write to a minor alone: a guardian or a second adult has to get a copy."),
        _("A grown-up may not write to you alone."),
    ),
    Code.GUARDIAN_OPTED_OUT: Words(
        _("The family has asked for no messages; please speak to them or print it."),
        _("Your family does not want messages here, so people tell you in person."),
    ),
    Code.QUIET_HOURS: Words(
        _("From 21:00 to 08:00 messages wait until the morning."),
        _("At night messages wait until 8 in the morning."),
    ),
    Code.OPEN_COPY: Words(
        _("Sent, with a copy to a guardian or a second adult."),
        _("Another grown-up can read this message too."),
    ),
    # keep
    Code.PERIOD_OVER: Words(
        _("The time for which this is kept is over."),
        _("The club has kept this long enough, so it goes."),
    ),
    Code.WITHIN_PERIOD: Words(
        _("Still within the time for which it is kept."),
        _("The club still keeps this for a while."),
    ),
}


def sentence_for(code: Code, *, to_child: bool = False) -> str:
    """The sentence for a code, in the language of the request."""
    words = WORDS[code]
    return str(words.child if to_child else words.adult)
