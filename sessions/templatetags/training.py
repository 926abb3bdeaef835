"""Template filters for training sessions: their own name and place."""

from django import template

from sessions.words import place_name, session_name

register = template.Library()
register.filter("session_name", session_name)
register.filter("place_name", place_name)
