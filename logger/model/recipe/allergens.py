"""Allergens that a label must name: a closed list, so that none is missed by its spelling.

Source: Regulation (EU) No 1169/2011 on the provision of food information to consumers, Annex II,
"Substances or products causing allergies or intolerances", points 1 to 14, from memory. Its
exceptions (such as glucose syrup of wheat) are not applied: the author of the sheet knows whether
one holds.
"""

import difflib

ANNEX_II: dict[str, tuple[str, ...]] = {
    "cereals containing gluten": ("wheat", "rye", "barley", "oats", "spelt", "khorasan wheat"),
    "crustaceans": (),
    "eggs": (),
    "fish": (),
    "peanuts": (),
    "soybeans": (),
    "milk": (),
    "nuts": (
        "almonds", "hazelnuts", "walnuts", "cashews", "pecan nuts", "Brazil nuts", "pistachio nuts",
        "macadamia nuts",
    ),
    "celery": (),
    "mustard": (),
    "sesame seeds": (),
    "sulphur dioxide and sulphites": (),
    "lupin": (),
    "molluscs": (),
}  # fmt: skip
"""Points 1 to 14 in their order; the cereals and nuts that points 1 and 8 name, which a label must
name one by one. Sulphites count from 10 mg/kg or 10 mg/l, as total SO2 (point 12)."""

ALLERGENS = tuple(name for group, names in ANNEX_II.items() for name in (group, *names))
"""Every name that a sheet may write."""


def allergen(text: str) -> str:
    """Return an allergen as the list spells it.

    Raises
    ------
    ValueError
        If it is not on the list.
    """
    by_name = {name.casefold(): name for name in ALLERGENS}
    said = text.strip().casefold()
    found = by_name.get(said)
    if found is None:
        near = [name for name in by_name if said and said in name.split()]
        near += difflib.get_close_matches(said, by_name, n=1, cutoff=0.5)
        hint = f"did you mean {by_name[near[0]]!r}? " if near else ""
        raise ValueError(f"no allergen {text!r}; {hint}write one of {', '.join(ALLERGENS)}")
    return found
