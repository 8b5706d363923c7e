"""Scores of tasters between batches: who scored all counts, by ranks."""

from logger.model.rows import ResultRow
from logger.review.compare.scores import scores_say


def batch(**scores: float) -> list[ResultRow]:
    rows = [ResultRow(name="bite", value=v, by=by) for by, v in scores.items()]
    return [*rows, ResultRow(name="cook loss", value=12.0, unit="%")]


def test_the_chance_and_the_means_are_those_of_the_tasters_of_every_batch():
    """Three tasters who agree on two batches: 2 of 2^3 deals; Dee has not tasted the second."""
    said = scores_say([batch(Ada=7, Bo=6, Cy=8, Dee=1), batch(Ada=5, Bo=4, Cy=5)])
    assert said == [
        "bite, mean of 3 tasters: 7.0, 4.7 (chance 25 % of ranks so far apart if the batches were "
        "alike)"
    ]


def test_one_taster_says_nothing_of_batches():
    assert scores_say([batch(Ada=7), batch(Ada=5)]) == []
