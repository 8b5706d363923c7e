"""What physically happens in a batch. Knows no closed form by which the engine judges.

- ``vessels``        vessels that cool, set and are poured
- ``equipment``      the pan, the bowl and the bath tray, filled for a batch
- ``roll``           a roll: size, surface, coat, heat on its way to the core
- ``gelling_coat``   calcium that diffuses into the coats and is bound there
- ``probe``          a temperature as a probe shows it: late, noisy, off, rounded
- ``loads``          what lies on a scale over time, and what the scale makes of it
- ``bath_on_scale``  a bath on a scale: pieces, hands, jugs, stirring
- ``physics``        all of it, stepped through the script
"""
