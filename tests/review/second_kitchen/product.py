"""A cheese-filled pepper roll: its sheet and its bench. Invented; no tested recipe."""

from logger.model.bench import Bench
from logger.model.files import bench_from_text, sheet_from_text
from logger.model.sheet import Sheet

PIECES = 8
FAT_G, WATER_G = 120.0, 260.0
PIECE_G, COAT_G = 48.0, 5.2

SHEET: Sheet = sheet_from_text(
    f"""
[sheet]
name = "Cheese-filled pepper roll"
defects = ["broken emulsion", "greasy", "grainy", "skin too thin", "skin tough", "skin burst",
  "leaking", "too soft", "off taste"]
[[ingredient]]
name = "butterfat"
phase = "fat"
fat = "butterfat"
mass = "{FAT_G} g"
[[ingredient]]
name = "whey"
phase = "water"
substance = "water"
mass = "{WATER_G} g"
[[ingredient]]
name = "psyllium"
phase = "water"
substance = "binder"
mass = "5 g"
[[ingredient]]
name = "coating water"
phase = "coat"
substance = "water"
mass = "394 g"
[[ingredient]]
name = "alginate"
phase = "coat"
substance = "alginate"
mass = "6 g"
[[ingredient]]
name = "bath water"
phase = "bath"
substance = "water"
mass = "1980 g"
[[ingredient]]
name = "calcium lactate"
phase = "bath"
salt = "calcium_lactate_pentahydrate"
mass = "80 g"
[[stage]]
id = "swell"
kind = "hydrate"
time = {{ low = "5 min", high = "15 min" }}
[[stage]]
id = "heat"
kind = "heat"
fat = {{ low = "50 degC", high = "60 degC" }}
water = {{ low = "46 degC", high = "56 degC" }}
[[stage]]
id = "beat"
kind = "emulsify"
rate = {{ low = "40 g/min", high = "110 g/min" }}
mass = {{ low = "114 g", high = "126 g" }}
fat_fraction = {{ low = "28 %", high = "35 %" }}
[[stage]]
id = "roll"
kind = "form"
pieces = {PIECES}
piece = {{ body = "cylinder", diameter = "24 mm", length = "105 mm" }}
mass = {{ low = "42 g", high = "54 g" }}
[[stage]]
id = "cool"
kind = "chill"
core = {{ high = "14 degC" }}
[[stage]]
id = "dip"
kind = "coat"
pieces = {PIECES}
piece = {{ body = "cylinder", diameter = "24 mm", length = "105 mm" }}
pickup = {{ low = "3.8 g", high = "6.8 g" }}
[[stage]]
id = "bath"
kind = "set"
pieces = {PIECES}
piece = {{ body = "cylinder", diameter = "24 mm", length = "105 mm" }}
bath = {{ low = "16 degC", high = "26 degC" }}
dwell = {{ low = "6 min", high = "9 min" }}
[[stage]]
id = "wash"
kind = "rinse"
dwell = {{ low = "1 min", high = "4 min" }}
[[stage]]
id = "oven"
kind = "cook"
core = {{ low = "72 degC", high = "86 degC" }}
[[stage]]
id = "pass"
kind = "hold"
core = {{ low = "57 degC" }}
time = {{ high = "12 min" }}
""",
    "pepper roll.sheet.toml",
)

_CHANNEL = """
[[channel]]
id = "{role}"
instrument = "{box}"
field = "{role}"
role = "{role}"
resolution = {step}
repeatability = {step}
"""
_PROBE = """sensor = { kind = "rtd", accuracy = "0.2 K" }
correction = { offset = "0 K", checked = 2026-11-02, by = "ice point", u = 0.1 }
"""
_BOXES = "".join(
    f'[[instrument]]\nid = "{b}"\nport = "none"\nshape = "none"\n' for b in ("box", "scales")
)
PROBES = ("fat", "water", "emulsion", "core", "bath")
SCALES = ("bowl_scale", "bench_scale")


SECOND_CORE = "second core"


def bench(*, second_core: bool = False) -> Bench:
    """Return the bench: five probes, or six, and two scales, all checked."""
    text = '[bench]\nname = "Second kitchen"\n' + _BOXES
    text += "".join(_CHANNEL.format(role=r, box="box", step=0.05) + _PROBE for r in PROBES)
    if second_core:
        text += _CHANNEL.format(role="core", box="box", step=0.05).replace(
            'id = "core"', f'id = "{SECOND_CORE}"'
        )
        text += _PROBE
    for role in SCALES:
        text += _CHANNEL.format(role=role, box="scales", step=0.02)
        text += 'sensor = { kind = "balance", linearity = "0.1 g" }\n'
    return bench_from_text(text, "second kitchen.toml")
