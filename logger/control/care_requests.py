"""What a client may ask of the recorder besides a run: sheets, sensors, the bench file.

Pure. ``door`` checks these as those of a run.
"""

from pydantic import Field

from logger.control.requests import Request, Word


class SaveSheet(Request):
    """Save a sheet into the data folder."""

    do = "save_sheet"
    name: Word = ""
    sheet: str = ""
    base: int | None = None
    """Revision that was opened; None for a new sheet."""


class SetRole(Request):
    """Give a channel another role in the bench file, and say what its sensor is."""

    do = "set_role"
    channel: Word = ""
    role: Word = ""
    sensor_type: Word = ""
    """Type, class and size as ``sensor_answer.sensor_of`` takes them; without type and class the
    sensor stays as it is."""
    sensor_class: Word = ""
    sensor_size: Word = ""


class CheckBegin(Request):
    """Begin to check a sensor against a known value; quantities with units, as typed."""

    do = "check_begin"
    channel: Word = ""
    way: Word = ""
    weight: Word | None = None
    pressure: Word | None = None
    altitude: Word | None = None


class CheckEnd(Request):
    """End a sensor check and judge it."""

    do = "check_end"
    run: Word = ""


class CheckWrite(Request):
    """Write the correction that a sensor check found into the bench file."""

    do = "check_write"
    run: Word = ""


class Survey(Request):
    """Begin to listen to every port, or ask what was heard so far."""

    do = "survey"
    begin: bool = False
    port: Word = ""
    """The one port to listen to, by path or address; empty is every port of the system."""


class Teach(Request):
    """Make a line format of what a port said: the number that counts, its unit, its words."""

    do = "teach"
    port: Word = ""
    line: int = Field(default=0, ge=0, le=10_000)
    number: int = Field(default=1, ge=1, le=1000)
    text: Word = ""
    """The number as the line has it."""
    unit: Word = ""
    moving: list[Word] = Field(default_factory=list, max_length=8)
    missing: list[Word] = Field(default_factory=list, max_length=8)


class AdoptBench(Request):
    """Write the bench file that fits what was heard, and what its probes and scales are."""

    do = "adopt_bench"
    probe_type: Word = ""
    """Type, class and accuracy of the probes as ``sensor_answer.sensor_of`` takes them."""
    probe_class: Word = ""
    probe_size: Word = ""
    scale_class: Word = ""
    """Class and verification interval of the scales."""
    scale_size: Word = ""
    numbers: Word = ""
    """Unit of numbers that instruments print without one."""
    columns: Word = ""
    """Which of several such numbers are probes: their names with commas, or ``"all"``."""


Care = SaveSheet | SetRole | CheckBegin | CheckEnd | CheckWrite | Survey | Teach | AdoptBench
"""Requests that change sheets or the bench file, or prepare that."""
