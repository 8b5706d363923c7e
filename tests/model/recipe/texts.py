"""Two recipes that hold every field of a sheet: a frank and a fresh sausage."""

from pathlib import Path

FRANK = Path(__file__).with_name("frank.sheet.toml").read_text(encoding="utf-8")
SAUSAGE = Path(__file__).with_name("sausage.sheet.toml").read_text(encoding="utf-8")
