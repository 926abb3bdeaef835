"""Template filters for training sessions: their own name and place; closings and absences in words."""

from django import template

from sessions.words import place_name, session_name, stretch_words

register = template.Library()
register.filter("session_name", session_name)
register.filter("place_name", place_name)
register.filter("stretch_words", stretch_words)
