"""Values to plain JSON values. Pure."""

import math
from typing import Any


def plain(value: Any) -> Any:
    """Return JSON values with None for every number that is not finite: JSON has no word for it."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [plain(part) for part in value]
    return value
