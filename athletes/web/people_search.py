"""Search as you type: the names that begin so. What is typed is posted, so that it stands in no address."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST

from athletes.models.accounts import Role
from athletes.selectors.people_search import people_found
from athletes.viewer import viewer_of

PAGE_OF = {Role.ADMIN: "person-record", Role.HEAD_COACH: "head-coach-athlete"}


@require_POST
def find(request: HttpRequest, role: str) -> HttpResponse:
    """The people found: a part of the page, or a page where no script asks."""
    typed = request.POST.get("name", "")
    people, is_more = people_found(viewer=viewer_of(request, role), typed=typed)
    context = {
        "found": [(person, reverse(PAGE_OF[Role(role)], args=[person.pk])) for person in people],
        "is_more": is_more,
        "typed": typed[:100],
        "find_at": request.path,
        "acting_role": Role(role).label,
    }
    name = "athletes/people_found.html" if request.headers.get("HX-Request") else "athletes/people_find.html"
    return render(request, name, context)
