"""Heads and ingredients that sheets of several tests begin with, as text; the stages are theirs."""

HEAD = """
[sheet]
name = "Smoked beet and barley roll"
decision_rule = "simple"
"""
FAT_AND_STOCK = """
[[ingredient]]
name = "cocoa butter"
phase = "fat"
fat = "cocoa_butter"
mass = "180 g"

[[ingredient]]
name = "smoked beet stock"
phase = "water"
substance = "water"
mass = "330 g"
"""
FAT_AND_JUICE = """
[[ingredient]]
name = "cocoa butter"
phase = "fat"
fat = "cocoa_butter"
mass = "180 g"
tolerance = "1 %"

[[ingredient]]
name = "beet juice"
phase = "water"
substance = "water"
mass = "240 g"
tolerance = "1 %"
"""


def coat_and_bath(calcium_chloride_g):
    """Return 500 g of coat with 1.5 % alginate, and 1490 g of bath water with its salt [g]."""
    return f"""
[[ingredient]]
name = "coating water"
phase = "coat"
substance = "water"
mass = "492.5 g"

[[ingredient]]
name = "sodium alginate"
phase = "coat"
substance = "alginate"
mass = "7.5 g"

[[ingredient]]
name = "bath water"
phase = "bath"
substance = "water"
mass = "1490 g"

[[ingredient]]
name = "calcium chloride"
phase = "bath"
salt = "calcium_chloride_anhydrous"
mass = "{calcium_chloride_g} g"
"""
