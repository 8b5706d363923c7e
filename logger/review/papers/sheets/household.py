"""Volumes in the measures of a household: cups, tablespoons, teaspoons.

Pure text out of millilitres. A mass becomes a volume only by a density that is known.

References
----------
21 CFR 101.9(b)(5)(viii): a cup is 240 ml, a tablespoon 15 ml, a teaspoon 5 ml (from memory).
"""

CUP_ML, TABLESPOON_ML, TEASPOON_ML = 240.0, 15.0, 5.0
_EIGHTHS = ("", "⅛", "¼", "⅜", "½", "⅝", "¾", "⅞")
_STEPS_ML = ((7.5, 0.625), (60.0, 1.25), (960.0, 15.0))
"""Below so much, rounded to steps of so much: an eighth and a quarter of a teaspoon, a spoon."""
_LAST_STEP_ML = 60.0


def household_text(volume_ml: float) -> str:
    """Write a volume [ml], above 0, in cups and spoons: ``"1¼ cups + 2 tbsp"``.

    Rounded to an eighth of a teaspoon below half a tablespoon, to a quarter of one below a quarter
    of a cup, to a tablespoon below four cups, to a quarter of a cup beyond.
    """
    step_ml = next((step for below, step in _STEPS_ML if volume_ml < below), _LAST_STEP_ML)
    left_ml = round(volume_ml / step_ml) * step_ml
    if left_ml <= 0.0:
        return "under ⅛ tsp"
    quarters, left_ml = divmod(left_ml, CUP_ML / 4.0)
    spoons, left_ml = divmod(left_ml, TABLESPOON_ML)
    cups = quarters / 4.0
    parts = [f"{_mixed(cups)} cup{'s' if cups > 1.0 else ''}"] if cups else []
    parts += [f"{spoons:.0f} tbsp"] if spoons else []
    parts += [f"{_mixed(left_ml / TEASPOON_ML)} tsp"] if left_ml else []
    return " + ".join(parts)


def _mixed(number: float) -> str:
    whole, eighths = divmod(round(number * 8.0), 8)
    return f"{whole or ''}{_EIGHTHS[eighths]}"
