"""Physics as pure functions of numbers; imports nothing of ours but `model`.

In reading order:

- ``metrology``  thermocouples, classes of tolerance, uncertainty, decisions at a limit
- ``statistics`` fits, block means, noise, and when a pour began
- ``heat``       water, cooling vessels, probe lag, rules for cooling and heating
- ``fats``       what is known of a fat, mixing temperatures, crowding, setting
- ``calcium``    salts and what is left in the bath; amounts that belong together
- ``gel``        alginate coats: thickness, the front of calcium, the dwell they need
- ``drying``     has the rinse water gone from the skin?

Beside them lie ``fats.toml`` and ``rulesets.toml``.
"""
