"""What stands on the scales of the virtual bench beside the food, and how cold a fridge leaves it.

Plain data; used by the acts of the cook and by the readings of the scales.
"""

BOWL_G = 412.0
"""Steel bowl in which the emulsion is made."""
TRAY_G = 1120.0
"""Tray of the calcium bath on the bath scale."""
PIECE_TRAY_G = 146.0
"""Tray on the bench scale for the pieces."""
RACK_G = 386.0
"""Rack on the bench scale on which the pieces dry."""
FRIDGE_C = 10.0
"""A bath this cold stood in the fridge until the pieces were coated [degC]."""
