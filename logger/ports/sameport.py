"""Whether the device behind a port's name is still the one that was there before it was lost.

A pseudo-terminal's number goes to the next program that asks for one, and the name of a USB adapter
to the next adapter: to open such a port is to take another program's input. Thin I/O: looks at
names, opens nothing.
"""

import os
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from logger.model.errors import PortError
from logger.ports.errors import why
from logger.ports.identity import Listed
from logger.ports.opening import is_pseudo

SLACK_NS = 2_000_000_000
"""How much older than its terminal a link may be [ns]: a program makes the terminal, then the link,
and may set the terminal's rights last."""


class DifferentDeviceError(PortError):
    """Another device or program has taken the port's name; it was not opened."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What a device is known by; None where that kind of device has no such thing.

    Attributes
    ----------
    terminal : tuple or None
        Device number, inode and time of making [ns] of a pseudo-terminal.
    link : tuple or None
        Device, inode and time of making [ns] of the link that names it.
    usb : tuple or None
        Vendor, product and serial number of a USB adapter.
    """

    terminal: tuple[int, int, int] | None = None
    link: tuple[int, int, int] | None = None
    usb: tuple[int, int, str | None] | None = None


def mark_of(device: str, listed: Callable[[], Iterable[Listed]]) -> Mark:
    """Return what the device behind a name is known by now; empty where nothing tells.

    Parameters
    ----------
    device : str
        Device path or URL.
    listed : callable
        Gives the ports of the system.

    Raises
    ------
    DifferentDeviceError
        If a link is older than the terminal behind it: that of the link is gone.
    PortError
        If nothing is there: what comes up a moment later is not what was looked at.
    """
    if "://" in device:
        return Mark()
    path = Path(device)
    try:
        about, named = path.stat(), path.lstat()
        target = path.resolve()
    except OSError as cause:
        if device.startswith("/"):
            raise why(cause, device, opening=True) from cause
        return Mark()
    if not is_pseudo(device):
        return Mark(usb=_usb_of({device, str(target)}, listed))
    linked = path.is_symlink()
    if linked and about.st_ctime_ns > named.st_ctime_ns + SLACK_NS:
        raise DifferentDeviceError(
            f"{device}: an old link to {target}, which another program has taken; not opened. "
            "Start the program that made the link again"
        )
    return Mark(
        terminal=(about.st_rdev, about.st_ino, about.st_ctime_ns),
        link=(named.st_dev, named.st_ino, named.st_ctime_ns) if linked else None,
    )


def is_the_same(port: str, before: Mark, now: Mark) -> bool:
    """Return whether it is proven that the same device is back; False where nothing can tell.

    Parameters
    ----------
    port : str
        As in the bench file, for the message.
    before, now : Mark
        When it was lost, and now.

    Raises
    ------
    DifferentDeviceError
        If it is another device.
    """
    if before.terminal is not None and now.terminal is not None:
        if before.terminal == now.terminal:
            return True
        if now.link is None or now.link == before.link:
            raise DifferentDeviceError(
                f"{port}: its terminal is gone and another program has its number now; not "
                "opened. Start the recorder again if it is the instrument's"
            )
        return False
    if before.usb is not None and now.usb is not None:
        if before.usb != now.usb:
            raise DifferentDeviceError(
                f"{port}: another adapter has the name now ({_adapter(now.usb)}, before "
                f"{_adapter(before.usb)}); not opened. Plug the right one in"
            )
        return before.usb[2] is not None
    return False


def _usb_of(
    names: set[str], listed: Callable[[], Iterable[Listed]]
) -> tuple[int, int, str | None] | None:
    if os.name == "posix" and not any(Path(name).is_char_device() for name in names):
        return None
    for one in listed():
        if one.device in names and one.vid is not None and one.pid is not None:
            return one.vid, one.pid, one.serial_number or None
    return None


def _adapter(usb: tuple[int, int, str | None]) -> str:
    vid, pid, serial = usb
    return f"{vid:04x}:{pid:04x} serial {serial}" if serial else f"{vid:04x}:{pid:04x}"
