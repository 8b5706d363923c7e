"""What the results of an export must be before a run is made of it: types, times, names.

Pure. Values are held to the types of ``logger.model`` strictly: text or true is no number. Used by
``checked``; a run file's own results are read more freely, for older editions wrote them.
"""

import re
from collections.abc import Iterator
from dataclasses import fields
from typing import Any, get_args

from logger.model.finding import Results
from logger.model.plainly import results_from
from logger.model.sheet import DecisionRule, Sheet
from logger.words.digits import fixed
from logger.words.values import with_unit

_KEY = re.compile(r"[a-z][a-z0-9_]*(\.[a-z0-9_]+)+")
_RULES = ("", *get_args(DecisionRule))
_ON_AXIS = re.compile(r"(.+_)?(t|from|to|start|end|in|out|acked|was)_s")
"""Names of fields that hold a time on the run's axis [s]."""


def results_checked(data: dict[str, Any], sheet: Sheet, longest_s: float) -> Results:
    """Return the results of an export.

    Parameters
    ----------
    data : dict
        Their JSON values.
    sheet : Sheet
        Of the run.
    longest_s : float
        Farthest time on a run's axis [s].

    Raises
    ------
    ValueError
        If a value is of another type, a time lies beyond the axis, or a finding or a stage is named
        as none can be.
    """
    results = results_from(data, strict=True)
    for place, value in _times(results):
        if abs(value) > longest_s:
            raise ValueError(f"{place}: a time beyond {with_unit(fixed(longest_s, 0), 's')}")
    for number, finding in enumerate(results.findings, 1):
        if _KEY.fullmatch(finding.key) is None:
            raise ValueError(f"findings.{number}.key: no name of a check")
        if finding.rule not in _RULES:
            raise ValueError(f"findings.{number}.rule: none of {', '.join(_RULES[1:])}")
    known = {stage.id: str(stage.kind) for stage in sheet.stage}
    for number, row in enumerate(results.stages, 1):
        if known.get(row.id) != row.kind:
            raise ValueError(f"stages.{number}: not a stage of the run's sheet")
    return results


def _times(results: Results) -> Iterator[tuple[str, float]]:
    """Yield place and value [s] of each time on the axis that the tables hold."""
    for table in fields(results):
        rows = getattr(results, table.name)
        for number, row in enumerate(rows if isinstance(rows, list) else [], 1):
            for one in fields(row):
                value = getattr(row, one.name)
                if _ON_AXIS.fullmatch(one.name) and isinstance(value, int | float):
                    yield f"{table.name}.{number}.{one.name}", value
