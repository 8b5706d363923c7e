"""Sheet arithmetic: what a batch is made of and what it comes to. Pure.

- ``names``     do the names in a sheet exist: fats, rule sets, ingredients, channels?
- ``rulesets``  the cooling or holding rule set that a stage names
- ``facts``     what is known of a batch so far
- ``amounts``   phases, concentrations, what the salt and the alginate come to
- ``mixture``   what has been weighed in so far, and what is too much
- ``phases``    the two phases of an emulsion: masses, fat, air, what they would give
- ``meeting``   two phases meet: where the temperature lands
- ``holds``     fat, water and allergens by what is written of the ingredients
- ``standins``  alternatives that are taken in one batch
- ``text_edits``  single values of a sheet's text; comments and order stay
- ``form``      a sheet's text as a form, and what is typed into the form as text
- ``cost``      what a batch costs
- ``results``   results that a sheet declares, as a person types them
"""
