"""Draft wordings to start from, for adults and for children; a person of the club confirms or replaces them."""

from django.utils.translation import gettext_noop as _

STARTER_WORDINGS: dict[tuple[str, bool], tuple[str, str]] = {
    ("health", False): (
        _("May the named coaches know where it hurts?"),
        _(
            "A pain note says the place and, if wanted, a few words. The coaches named here may read it while they "
            "work with this athlete; nobody else. It is kept for 12 months at most. Without it a stop still works: "
            "the athlete runs no more that day, and why is told in person. You can stop this at any time; notes are "
            "hidden at once and deleted after 30 days."
        ),
    ),
    ("health", True): (
        _("May your coaches know where it hurts?"),
        _(
            "If you say yes, the coaches named here can read where it hurts. Nobody else can. If you say no, you can "
            "still stop at any time and tell an adult yourself. You can change your answer whenever you like."
        ),
    ),
    ("share", False): (
        _("May the named coaches of other groups read the form history?"),
        _(
            "The form history is what coaches said about the running, in which words, and what followed. Coaches of "
            "the own groups read it anyway; this asks about the coaches named here. It holds for this season and can "
            "be stopped at any time, with effect at once."
        ),
    ),
    ("share", True): (
        _("May the coaches named here read what your coaches noted about your running?"),
        _("Your own coaches can read it already. You can say no, and you can change your answer whenever you like."),
    ),
    ("feed", False): (
        _("May there be a personal calendar address?"),
        _(
            "A secret address shows the times of the own training in a calendar program. It names nobody. Whoever has "
            "the address can read it, so it can be ended at any time and is dead at once."
        ),
    ),
    ("feed", True): (
        _("Do you want a calendar address for your training times?"),
        _("It shows when training is, without names. Keep the address to yourself. You can end it whenever you like."),
    ),
    ("record", False): (
        _("What the club keeps about a member"),
        _(
            "Name, birth date, groups, the plan, who came, logs and marks, while somebody is a member. Coaches of the "
            "groups, the head coach and the admins use it for training. You can ask for a copy and for corrections."
        ),
    ),
    ("record", True): (
        _("What the club keeps about you"),
        _(
            "Your name, your groups, when you train, whether you came, and what you log. Your coaches use it for "
            "training."
        ),
    ),
    ("view", False): (
        _("What may each guardian see?"),
        _(
            "From the age at which you decide online for yourself, a guardian sees the form history unless you say no, "
            "and pain notes and who looked only if you say yes; so it is with taking a copy and with having something "
            "taken away. From 18 they see nothing without your yes. You can change each answer at any time, at once."
        ),
    ),
    ("view", True): (
        _("What may your parents or guardians see?"),
        _(
            "When and where you train they can always see: that keeps you safe. For the rest there is a yes and a no "
            "where it is yours to decide. You can change it whenever you like, and it counts at once."
        ),
    ),
}
