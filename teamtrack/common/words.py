"""Sentences that several doorways say."""

from django.utils.translation import gettext_lazy as _

NOT_FOUND = _("There is nothing here for you. It may have moved, or it is not yours to see.")
SIGN_IN_FIRST = _("Please sign in; what you typed is kept.")
CSRF_FAILED = _("This page was open for too long. Load it again and repeat the last step.")
MALFORMED = _("The request could not be read. Nothing was changed.")
BUSY = _("The server is busy for a moment. Nothing was lost; please try again.")
FAULT = _("Something broke on the server. What was shown as saved is safe; please try again.")
NOT_ALLOWED = _("That is not possible here.")
CHECK_FIELDS = _("Something is missing or wrong: see the fields. Nothing was changed.")
