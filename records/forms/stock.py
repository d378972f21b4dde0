"""Forms of parts in stock: places, what became of a lot, and that a clinic was told of a recall.

Their ground has `books`, whose parts they are, and `today`.
"""

from __future__ import annotations

from records.models import RecallTold, StockPlace

from .base import EntryForm, standing_rows
from .fields import Choice, Day, Line, Lines, OneOf, Whole

PIECES_AT_MOST = 100_000


def places_to_choose(ground) -> list:
    """The places of the books, by name: first versions as corrected."""
    return standing_rows(StockPlace.objects.filter(owner=ground.books.pk).order_by("kind", "name", "id"))


_ONE_OF_YOURS = "One of your stores and vans. A new one is added on the page of parts."


class StockPlaceForm(EntryForm):
    legend = "A store or a van. What a visit fits counts as taken out of the van of who did the work."

    name = Line("Name", longest=80, required=True, help_text="As your people call it, such as Store or Van 2.")
    kind = Choice(
        "What it is", StockPlace._meta.get_field("kind").choices,
        help_text="A van goes along with who drives it; a store stays where it is.",
    )  # fmt: skip
    keeper = Line(
        "Whose it is", longest=200,
        help_text="Of a van: the full name of who takes parts out of it. Blank when it is nobody’s alone.",
    )  # fmt: skip


class _Pieces(EntryForm):
    """How many, on which day, why; `lot` is fixed by the page."""

    on = Day("Day")
    quantity = Whole("How many", required=True, largest=PIECES_AT_MOST)
    place = OneOf("Where", unknown="That is no place of yours. Choose one of the list.", help_text=_ONE_OF_YOURS)

    def __init__(self, *args, places=None, **kwargs):
        super().__init__(*args, **kwargs)
        places = places_to_choose(self.ground) if places is None else places
        self.fields["place"].take(places)
        if len(places) == 1:
            self.initial.setdefault("place", places[0])
        if "to_place" in self.fields:
            self.fields["to_place"].take(places)


class MovedForm(_Pieces):
    legend = "From one of your places to another, such as into a van or back to the store."

    place = OneOf("From where", unknown="That is no place of yours. Choose one of the list.", help_text=_ONE_OF_YOURS)
    to_place = OneOf(
        "To where", unknown="That is no place of yours. Choose one of the list.", help_text=_ONE_OF_YOURS
    )
    reason = Lines("Remark", longest=300)


class GoneForm(_Pieces):
    place = OneOf("From where", unknown="That is no place of yours. Choose one of the list.", help_text=_ONE_OF_YOURS)
    reason = Lines("Why", longest=300, required=True, help_text="Who looks for the lot later reads it.")


class CountedForm(_Pieces):
    legend = (
        "What lies there now, of this lot. A difference to what should lie there is shown and stays shown: a count "
        "explains nothing away."
    )

    quantity = Whole("How many lie there", required=True, largest=PIECES_AT_MOST, help_text="0 when none is left.")
    reason = Lines("Remark", longest=300)


class FittedFromForm(EntryForm):
    """From which place a fitted part was taken: the day and the number stand in the visit."""

    place = OneOf("Taken from", unknown="That is no place of yours. Choose one of the list.", help_text=_ONE_OF_YOURS)

    def __init__(self, *args, places=None, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["place"].take(places_to_choose(self.ground) if places is None else places)


class RecallToldForm(EntryForm):
    legend = "That the clinic knows: whom you told, how, and when."

    on = Day("Day")
    told_to = Line("Who was told", longest=200, required=True, help_text="The person at the clinic, by name.")
    how = Choice(
        "How",
        RecallTold._meta.get_field("how").choices,
        help_text="By letter, by telephone or there.",
    )
    told_by = Line("Who told it", longest=200, help_text="Leave blank when it was you.")
    said = Lines("What was said", help_text="Such as what the clinic will do until the part is out.")


FORM_OF = {"moved": MovedForm, "returned": GoneForm, "thrown away": GoneForm, "counted": CountedForm}
