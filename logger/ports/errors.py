"""What can be wrong with a port, and what to do about it.

An operating system says EACCES; a cook needs "you may not open it, do this". Each kind is a class,
so that callers can tell them apart.
"""

import errno
import getpass
import os
import sys
from pathlib import Path

from logger.model.errors import PortError

try:
    import grp
    import termios

    TROUBLE: tuple[type[BaseException], ...] = (OSError, termios.error, TypeError, ValueError)
except ImportError:  # Windows
    TROUBLE = (OSError, TypeError, ValueError)
"""What port calls raise when something happened to the port: each call has its own after a pulled
plug, and not all are OSErrors."""


class NoSuchPortError(PortError):
    """There is no such port."""


class NotAPortError(PortError):
    """The name is none of a port: it is not opened."""


class NoPermissionError(PortError):
    """The port is there, but this user may not open it."""


class PortBusyError(PortError):
    """Another program holds the port."""


class PortSettingsError(PortError):
    """The port refuses the line settings."""


class PortLostError(PortError):
    """The port was there and is gone, or broke."""


def why(cause: BaseException, port: str, *, opening: bool) -> PortError:
    """Return a port error that says what happened and what to do.

    Parameters
    ----------
    cause : BaseException
        What the call raised; one of `TROUBLE`.
    port : str
        The port as the bench file names it.
    opening : bool
        True when the port was being opened, False when it was open.
    """
    if isinstance(cause, PortError):
        return cause
    number = _errno(cause)
    if not opening:
        gone = number in (errno.ENODEV, errno.ENXIO, errno.EIO) or not _is_there(port)
        text = "the plug was pulled or the power went" if gone else _plain(cause)
        if "multiple access" in text:  # pyserial cannot tell these apart
            text = "the plug was pulled, the power went, or a second program is reading it"
        return PortLostError(f"{port}: lost: {text}; it is tried again automatically")
    if number == errno.ENOENT or (number is None and _names_no_file(cause)):
        return NoSuchPortError(f"{port}: no such port; {_where_it_may_be()}")
    if number in (errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK) or _busy_on_windows(cause):
        holder = holder_of(port)
        return PortBusyError(f"{port}: held by {holder or 'another program'}; {release_of(holder)}")
    if number in (errno.EACCES, errno.EPERM):
        return NoPermissionError(f"{port}: you may not open it; {permission_advice(port)}")
    if number == errno.ENXIO or number == errno.ENODEV:
        return NoSuchPortError(f"{port}: the name is there, but not the instrument; plug it in")
    if number == errno.ECONNREFUSED or "refused" in str(cause):
        return NoSuchPortError(f"{port}: nobody listens there; is the serial server on?")
    if number == errno.EINVAL or isinstance(cause, ValueError):
        return PortSettingsError(
            f"{port}: refuses these line settings ({_plain(cause)}); check baud, bits and parity"
        )
    return PortError(f"{port}: cannot be opened: {_plain(cause)}; unplug it and plug it in again")


def permission_advice(port: str, system: str = sys.platform) -> str:
    """Return what to do when a port may not be opened, on one kind of system.

    Parameters
    ----------
    port : str
        Device path.
    system : str
        As ``sys.platform``.
    """
    if system.startswith("linux"):
        group = _group_of(port) or "dialout"
        if _is_member(group):
            return f"you are in its group {group} already: log out and in again, or restart"
        return (
            f"run 'sudo usermod -aG {group} $USER', log out and in again "
            "(on some systems the group is uucp)"
        )
    if system == "darwin":
        return "use its /dev/cu.* name, allow the accessory in the privacy settings, plug it again"
    if system == "win32":
        return "close the program that holds it, or start this one as a user who may"
    return f"ask the administrator for the right to read and write {port}"


SERVICES = {
    "brltty": "sudo systemctl stop brltty brltty.path",
    "ModemManager": "sudo systemctl stop ModemManager",
    "gpsd": "sudo systemctl stop gpsd gpsd.socket",
}
"""Services that take serial adapters for a braille display, a modem or a satellite receiver, and
the command that stops each until the next start (common practice, no source)."""


OWN = "logger.recorder"
"""What a recorder of bainlog is started with."""


def release_of(holder: str | None) -> str:
    """Return what makes a program let go of a port.

    Parameters
    ----------
    holder : str or None
        As `holder_of` names it.
    """
    for service, command in SERVICES.items():
        if holder is not None and service.lower() in holder.lower():
            return f"run '{command}', then plug it in again; see hardware_notes.md"
    if holder is not None and OWN in holder:
        return "that is bainlog's own recorder: press Ctrl-C where 'bainlog start' runs"
    number = holder.rpartition("(process ")[2].rstrip(")") if holder is not None else ""
    return "end that program first" + (f", or run 'kill {number}'" if number.isdecimal() else "")


def _where_it_may_be() -> str:
    """Return what to do where a port is missing: a service may have taken it."""
    for service in _running() & SERVICES.keys() - {"ModemManager"}:
        return (
            f"plug it in; if it vanishes again, {service} is taking it: run '{SERVICES[service]}' "
            "and see hardware_notes.md"
        )
    return "plug it in, or see what is there with 'bainlog ports'"


def _running() -> set[str]:
    """Return the names of the programs that run, where the system tells."""
    found = set()
    for entry in Path("/proc").glob("[0-9]*/comm"):
        try:
            found.add(entry.read_text("utf-8", "replace").strip())
        except OSError:
            continue
    return found


def holder_of(port: str) -> str | None:
    """Return the program that holds a device, with its number, where the system tells."""
    try:
        target = Path(port).resolve(strict=True)
        number = _lock_holder(target) or _opener(target)
    except OSError:
        return None
    return None if number is None else f"{_program(number)} (process {number})"


def _lock_holder(target: Path) -> str | None:
    """Return the process with a lock on a device, from the system's list of locks."""
    about = target.stat()
    place = f"{os.major(about.st_dev):02x}:{os.minor(about.st_dev):02x}:{about.st_ino}"
    try:
        lines = Path("/proc/locks").read_text(encoding="ascii").splitlines()
    except OSError:
        return None
    for line in lines:
        words = line.split()
        if len(words) > 5 and words[1] == "FLOCK" and words[5] == place:
            return words[4]
    return None


def _opener(target: Path) -> str | None:
    """Return another process that has a device open."""
    for number in os.listdir("/proc"):
        if not number.isdecimal() or int(number) == os.getpid():
            continue
        try:
            held = [os.readlink(entry) for entry in (Path("/proc") / number / "fd").iterdir()]
        except OSError:
            continue
        if str(target) in held:
            return number
    return None


def _program(number: str) -> str:
    try:
        words = (Path("/proc") / number / "cmdline").read_bytes().split(b"\x00")
    except OSError:
        return "another program"
    return " ".join(w.decode(errors="replace") for w in words[:3] if w) or "another program"


def _group_of(port: str) -> str | None:
    if sys.platform == "win32":
        return None
    try:
        return grp.getgrgid(os.stat(port).st_gid).gr_name
    except (OSError, KeyError):
        return None


def _is_member(group: str) -> bool:
    """Whether this user was put into a group after logging in."""
    if sys.platform == "win32":
        return False
    try:
        about = grp.getgrnam(group)
        return getpass.getuser() in about.gr_mem and about.gr_gid not in os.getgroups()
    except (KeyError, OSError):
        return False


def _errno(cause: BaseException) -> int | None:
    number = getattr(cause, "errno", None)
    if number is None and cause.args and isinstance(cause.args[0], int):
        return cause.args[0]  # termios.error
    return number if isinstance(number, int) else None


def _names_no_file(cause: BaseException) -> bool:
    return "FileNotFoundError" in str(cause) or "No such file" in str(cause)


def _busy_on_windows(cause: BaseException) -> bool:
    return sys.platform == "win32" and "PermissionError" in str(cause)


def _is_there(port: str) -> bool:
    return "://" in port or Path(port).exists()


def _plain(cause: BaseException) -> str:
    text = getattr(cause, "strerror", None) or str(cause)
    return str(text).strip() or type(cause).__name__
