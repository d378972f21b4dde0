"""What no list of leaked pass phrases names one by one: the same few characters, or a row of the keyboard's order."""

from __future__ import annotations

from itertools import pairwise

from django.core.exceptions import ValidationError

LEAST_DIFFERENT = 5
MOST_IN_ORDER = 0.7  # of the steps from one character to the next


class PlainPhraseValidator:
    """Common practice, no source for the numbers; no kind of character is asked for (NIST SP 800-63B-4, 3.1.1.2)."""

    def validate(self, password: str, user=None) -> None:
        """Raises ValidationError for one that is guessed without knowing anything of its person."""
        if len(set(password.casefold())) < LEAST_DIFFERENT:
            raise ValidationError("These are the same few characters over and over. Take a few words in a row.")
        steps = [abs(ord(b) - ord(a)) for a, b in pairwise(password.casefold())]
        if sum(step <= 1 for step in steps) > MOST_IN_ORDER * len(steps):
            raise ValidationError("These characters stand in their usual order. Take a few words in a row.")

    def get_help_text(self) -> str:
        """What is asked, in words."""
        return "Not the same few characters, nor a row of letters or digits in their order."
