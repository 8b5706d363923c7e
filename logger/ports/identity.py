"""What a bench file calls a port, to a device that can be opened.

``usb:vid=0403,pid=6001,serial=A9`` finds an adapter wherever it is plugged in;
``usb:location=1-1.2`` finds whatever sits in one socket; device paths and addresses stand for
themselves. Other names than the forms of ``logger.model.ports.forms`` are refused.
"""

from collections.abc import Callable, Iterable
from typing import Any, NamedTuple, Protocol

from logger.model.errors import InputError
from logger.model.ports.forms import form_of
from logger.ports.errors import NoSuchPortError

KEYS = ("vid", "pid", "serial", "location", "interface")


class Listed(Protocol):
    """What the system lists of a port (pyserial's ``ListPortInfo``)."""

    device: str
    description: str | None
    vid: int | None
    pid: int | None
    serial_number: str | None
    location: str | None
    interface: str | None


class Found(NamedTuple):
    """A device and why it is the one."""

    device: str
    reason: str


def listed_ports() -> list[Listed]:
    """Return the ports that the system lists. Slow on some systems: never in a read loop."""
    from serial.tools.list_ports import comports

    there: Iterable[Any] = comports()
    return sorted(there, key=lambda p: str(p.device))


def checked(port: str) -> str:
    """Return a port's name if it has one of the forms that are taken.

    Raises
    ------
    InputError
        If it has not.
    """
    try:
        form_of(port)
    except ValueError as cause:
        found, _, wanted = str(cause).partition("; ")
        raise InputError("port", found, wanted) from cause
    return port


def wanted_of(port: str) -> dict[str, str]:
    """Return what a ``usb:`` name asks for, by key.

    Raises
    ------
    InputError
        If it does not read.
    """
    wanted: dict[str, str] = {}
    for part in port[len("usb:") :].split(","):
        key, equals, value = (text.strip() for text in part.partition("="))
        if key not in KEYS or not equals or not value or key in wanted:
            raise InputError(
                f"port {port!r}",
                f"{part!r} can't be read",
                "write usb:vid=0403,pid=6001,serial=... or usb:location=...",
            )
        wanted[key] = value.lower() if key in ("vid", "pid") else value
    for key in ("vid", "pid"):
        if key in wanted and not all(c in "0123456789abcdef" for c in wanted[key]):
            raise InputError(f"port {port!r}", f"{key}={wanted[key]!r}", "write it in hexadecimal")
    return wanted


def resolve(port: str, listed: Callable[[], Iterable[Listed]] = listed_ports) -> Found:
    """Return the device that a port's name stands for.

    Parameters
    ----------
    port : str
        As in the bench file.
    listed : callable
        Gives the ports that are there.

    Raises
    ------
    InputError
        If the name has no known form, does not read, or stands for more than one port.
    NoSuchPortError
        If nothing that is plugged in fits it.
    """
    if not checked(port).lower().startswith("usb:"):
        return Found(port, "named by its path" if "://" not in port else "named by its address")
    wanted = wanted_of(port)
    there = list(listed())
    fitting = [p for p in there if all(_of(p, key) == value for key, value in wanted.items())]
    if not fitting:
        seen = ", ".join(name_of(p) for p in there if p.vid is not None) or "no USB port"
        raise NoSuchPortError(f"{port}: nothing like it is plugged in; there is {seen}")
    if len(fitting) > 1:
        raise InputError(
            f"port {port!r}",
            "means " + " and ".join(str(p.device) for p in fitting),
            "add serial=..., or location=... of the socket: "
            + ", ".join(f"{p.device} is location={p.location}" for p in fitting),
        )
    return Found(str(fitting[0].device), "found by " + ", ".join(wanted))


def name_of(listed: Listed) -> str:
    """Return the name for a bench file that finds a port again: serial number, socket or path."""
    if listed.vid is None or listed.pid is None:
        return str(listed.device)
    if listed.serial_number:
        return f"usb:vid={listed.vid:04x},pid={listed.pid:04x},serial={listed.serial_number}"
    if listed.location:
        return f"usb:location={listed.location}"
    return str(listed.device)


def _of(listed: Listed, key: str) -> str | None:
    if key in ("vid", "pid"):
        number = getattr(listed, key)
        return None if number is None else f"{number:04x}"
    return {
        "serial": listed.serial_number,
        "location": listed.location,
        "interface": listed.interface,
    }[key]
