"""API addresses of the app that knows WHEN AND WHAT."""

from django.urls import path

from sessions.api import availability, entries, form_history, training_sessions, weeks

urlpatterns = [
    path("sessions", training_sessions.TrainingSessions.as_view(), name="api-sessions"),
    path("sessions/<uuid:session_id>", training_sessions.OneTrainingSession.as_view(), name="api-session"),
    path("athletes/<uuid:athlete_id>/form-history", form_history.FormHistory.as_view(), name="api-form-history"),
    path("sessions/<uuid:session_id>/availability", availability.Availability.as_view(), name="api-availability"),
    path("sessions/<str:session_id>/entries", entries.Entries.as_view(), name="api-entries"),
    path("sessions/<str:session_id>/entries/counting", entries.EntriesCounting.as_view(), name="api-entries-counting"),
    path("weeks/<str:label>", weeks.Week.as_view(), name="api-week"),
    path("weeks/<str:label>/proposals", weeks.WeekProposals.as_view(), name="api-week-proposals"),
    path("weeks/<str:label>/publish", weeks.WeekPublish.as_view(), name="api-week-publish"),
    path("proposals/<uuid:proposal_id>", weeks.OneProposal.as_view(), name="api-proposal"),
    path("proposals/<uuid:proposal_id>/stop", weeks.ProposalStop.as_view(), name="api-proposal-stop"),
    path("proposals/<uuid:proposal_id>/accept", weeks.ProposalAccept.as_view(), name="api-proposal-accept"),
]
