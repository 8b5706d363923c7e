"""A sheet on paper: a card to work from, a recipe to hand on.

- ``bought``       what a sheet says of its ingredients, in words
- ``cautions``     what can hurt, at its stage and in full
- ``code``         the QR code that opens a sheet on this network's page
- ``last``         what the last run left to mind
- ``card``         what the batch card says, for the template ``card.typ``
- ``household``    cups and spoons
- ``seen``         what varied in good batches, and by how much
- ``handed``       what the recipe says, for the template ``recipe.typ``
- ``sheet_pages``  both as PDF or PNG
"""
