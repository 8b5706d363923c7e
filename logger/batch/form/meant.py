"""What an amount may mean that reads in two ways, as changes that one tap makes in the text.

Pure; nobody guesses whether a comma parts thousands or decimals.
"""

from typing import Any

from logger.batch.form.changes import Change
from logger.batch.form.places import Table
from logger.batch.form.sums import warned
from logger.model.errors import InputError
from logger.model.files import table_of
from logger.model.recipe.amount import comma_forms


def meant_by(text: str, name: str, wrong: InputError) -> list[Change]:
    """Return the changes that would mend an amount with a comma; none for anything else.

    Parameters
    ----------
    text : str
        Of the sheet.
    name : str
        What messages call it.
    wrong : InputError
        What is wrong, and where.
    """
    (at,) = warned([wrong], name)
    if at.table not in ("ingredient", "subrecipe.ingredient") or at.path != ("amount",):
        return []
    tables: list[Any] = table_of(text, name).get(at.table.partition(".")[0], [])
    place, row = at.place, tables[at.place]
    if at.inner >= 0:
        earlier = sum(len(one.get("ingredient", [])) for one in tables[: at.place])
        place, row = earlier + at.inner, row["ingredient"][at.inner]
    written = row.get("amount", row.get("mass", ""))
    forms = comma_forms(written) if isinstance(written, str) else []
    table: Table = "ingredient" if at.inner < 0 else "subrecipe.ingredient"
    return [
        Change(act="set", table=table, place=place, path=("amount",), value=form) for form in forms
    ]
