"""How much a human look at an attempt is worth."""

from dataclasses import dataclass
from typing import Final

from counting.review.sheet import ReviewedSheet

NO_REP_WORTH: Final = 0.05
"""A look at a definite no-rep, against one at a rep that is an even bet."""


@dataclass(frozen=True, slots=True)
class Worth:
    """What a look may change.

    ``film_in_doubt`` says that the film is not certain to show one uncut attempt of one person;
    ``open_reps`` counts reps without a definite verdict; ``unseen_no_reps`` definite no-reps that
    nobody has looked at; ``doubt`` sums up how uncertain the count is: 1 for each rep that is an
    even bet, less for one that is nearly sure.
    """

    film_in_doubt: bool
    open_reps: int
    unseen_no_reps: int
    doubt: float

    @property
    def rank(self) -> tuple[bool, float]:
        """Key to sort by, most worth first when reversed: films in doubt, then doubtful counts."""
        return self.film_in_doubt, self.doubt


def worth_of(sheet: ReviewedSheet, *, film_in_doubt: bool) -> Worth:
    """Value a look at an attempt as it stands after review so far.

    A rep's doubt is four times the variance of its verdict, p (1 - p): the variances add up to
    that of the count.
    """
    probabilities = [rep.measured.probability_good for rep in sheet.open_reps]
    unseen = sum(
        rep.measured.verdict == "no-rep" and rep.state == "as measured" and not rep.calls
        for rep in sheet.reps
    )
    doubt = sum(4.0 * p * (1.0 - p) for p in probabilities) + NO_REP_WORTH * unseen
    return Worth(film_in_doubt, len(probabilities), unseen, doubt)
