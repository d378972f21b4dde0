"""The photos of a visit: those that show one of its jobs or a row of one."""

from __future__ import annotations

from django.db.models import Q

from records.log.visits import LEAVES
from records.models import Job, Photo, Visit


def photos_of(visit: Visit):
    """The photos in force of the visit, any version of which is given, as one query; oldest first.

    A row that was corrected, or entered in error later, keeps its photos.
    """
    jobs = Job.objects.filter(visit__origin=visit.origin)
    shown = Q(about__in=jobs.values("origin"))
    for leaf in LEAVES.values():
        shown |= Q(about__in=leaf.objects.filter(job__in=jobs).values("origin"))
    return Photo.objects.in_force().filter(shown, clinic_id=visit.clinic_id).order_by("id")
