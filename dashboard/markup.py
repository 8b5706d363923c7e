"""Components as JSON for pages that draw by themselves (``assets/parts.js``).

Pure. A tree of Dash's plain HTML components becomes a tree of tags, attributes and text. A page
that changes several times a second is drawn so: Dash's own renderer looks at all components of a
page at each answer.
"""

from typing import Any

import numpy as np
from dash.development.base_component import Component
from pydantic_core import to_json

HTML = "dash_html_components"


def json_of(made: object) -> bytes:
    """Return JSON of records, figures and components; a number that is none becomes null.

    Parameters
    ----------
    made : object
        What a page is sent.

    Raises
    ------
    TypeError
        If a component in it is no plain HTML, or a value is of another kind.
    """
    return to_json(made, inf_nan_mode="null", fallback=_plain)


def _plain(value: object) -> Any:
    if isinstance(value, np.generic):
        return value.item()
    if not isinstance(value, Component):
        raise TypeError(f"{type(value).__name__} can't be sent to a page")
    about = value.to_plotly_json()
    if about["namespace"] != HTML:
        raise TypeError(f"{about['type']} is no plain HTML")
    props = {name: prop for name, prop in about["props"].items() if prop is not None}
    return {"tag": about["type"].lower(), "inside": props.pop("children", None), "props": props}
