"""How duties were kept (`audit.pages.duties_kept`), as filters."""

from __future__ import annotations

from django import template

from audit.pages import duties_kept

register = template.Library()

for each in (duties_kept.longest_gap, duties_kept.exempt_words, duties_kept.bound_words, duties_kept.lapse_runs):
    register.filter(each)
