"""The words of the pages (`audit.pages.written_on_screen`) as filters and tags."""

from __future__ import annotations

from django import template

from audit.pages import written_on_screen

register = template.Library()

for each in (
    written_on_screen.day,
    written_on_screen.plain_day,
    written_on_screen.said,
    written_on_screen.mid,
    written_on_screen.packs,
    written_on_screen.when,
    written_on_screen.moment,
    written_on_screen.number,
    written_on_screen.repair_class,
    written_on_screen.test_title,
    written_on_screen.grade,
    written_on_screen.standing_slug,
    written_on_screen.state_slug,
    written_on_screen.week_mark,
    written_on_screen.week_words,
    written_on_screen.lookup,
):
    register.filter(each)
for each in (
    written_on_screen.failures_said.before,
    written_on_screen.failures_said.ended,
    written_on_screen.failures_said.missing,
    written_on_screen.failures_said.step_told,
    written_on_screen.failures_said.follow_up_told,
    written_on_screen.failures_said.look_back_told,
    written_on_screen.round_said.state_told,
    written_on_screen.round_said.early_told,
):
    register.filter(each)
register.filter("known", written_on_screen.in_brackets)
register.simple_tag(written_on_screen.measured)
register.simple_tag(written_on_screen.flags)
for each in (written_on_screen.proof, written_on_screen.record_link, written_on_screen.checked):
    register.simple_tag(takes_context=True)(each)
