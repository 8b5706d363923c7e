"""What really happened in a batch, gathered by ``physics`` and judged by ``judge``. Plain data."""

from dataclasses import dataclass, field


@dataclass(slots=True, kw_only=True)
class Facts:
    """What really happened, gathered while the world steps; times [s]."""

    lowest_pour_fat_c: float = float("inf")
    fat_at_pour_c: float = float("nan")
    water_at_pour_c: float = float("nan")
    mixed_c: float = float("nan")
    melted_s: float = float("nan")
    hydrated: float = 1.0
    core_after_chill_c: float = float("nan")
    highest_core_c: float = float("-inf")
    film_left: float = 0.0
    settings: list[dict[str, float | str | bool]] = field(default_factory=list)
    pieces: dict[int, dict[str, float]] = field(default_factory=dict)
    heat_in_j: float = 0.0
    bath_left_g: float = float("nan")
