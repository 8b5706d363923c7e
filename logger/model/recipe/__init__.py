"""The ingredients of a sheet as a cook writes them, and the list that is weighed.

- ``allergens``  the closed list of EU 1169/2011, Annex II
- ``amount``     ``"1.5 % of phase"``, ``"4 to 6 g"``, ``"120 ml"``, ``"to taste"``
- ``entry``      one ingredient as it is written, what is known of it as bought, sub-recipes
- ``shares``     percents of the batch, a phase, a base or a sub-recipe to masses
- ``made``       what a sub-recipe is made of, for each gram of it
- ``flatten``    all of it to one list of names and masses
- ``wrongs``     all that is wrong with it at once
- ``checked``    the text of a sheet as far as it reads, with all that is wrong
"""
