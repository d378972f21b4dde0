"""The words of the pages (`audit.pages.on_screen`) as filters and tags."""

from __future__ import annotations

from django import template

from audit.pages import on_screen

register = template.Library()

for each in (
    on_screen.day,
    on_screen.plain_day,
    on_screen.said,
    on_screen.mid,
    on_screen.packs,
    on_screen.moment,
    on_screen.number,
    on_screen.repair_class,
    on_screen.test_title,
    on_screen.grade,
    on_screen.standing_slug,
    on_screen.state_slug,
    on_screen.week_mark,
    on_screen.lookup,
):
    register.filter(each)
register.simple_tag(on_screen.measured)
register.simple_tag(on_screen.flags)
for each in (on_screen.proof, on_screen.record_link):
    register.simple_tag(takes_context=True)(each)
