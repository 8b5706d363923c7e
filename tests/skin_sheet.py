"""The sheet of one bath stage, for what is done with a slab test of its alginate."""

SHEET = """
[sheet]
name = "Smoked beet and barley roll"

[[ingredient]]
name = "alginate, medium"
phase = "coat"
substance = "alginate"
mass = "15 g"

[[ingredient]]
name = "coating water"
phase = "coat"
substance = "water"
mass = "985 g"

[[ingredient]]
name = "calcium chloride"
phase = "bath"
salt = "calcium_chloride_dihydrate"
mass = "20 g"

[[ingredient]]
name = "bath water"
phase = "bath"
substance = "water"
mass = "1980 g"

[[stage]]
id = "skin"
kind = "set"
bath = { low = "14 degC", high = "24 degC" }
dwell = { low = "3 min", high = "12 min" }
pieces = 1
piece = { body = "cylinder", diameter = "26 mm", length = "115 mm" }
expected_coat = "0.6 mm"
"""
