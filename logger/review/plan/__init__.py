"""What a sheet will lead to, before anything is weighed.

- ``planned``     what a plan is made of
- ``known``       the fats and slab tests that a review may know
- ``heat_plan``   where the temperature will land when the phases meet
- ``skin_plan``   how long the skin will need, and whether the bath can set all pieces
- ``kinds``       what each kind of stage adds
- ``recipe_plan``  fat, water, allergens, yield, what is made ahead
- ``batch_plan``  amounts, cost, time, and what is not measured
- ``weigh_list``  what is weighed, as tables
- ``plan``        the whole plan
"""
