"""The forms of a port's name that are taken, in one list; what is not on it is refused.

Pure. A bench file may come from someone else, and the serial library takes addresses that write to
files of their choice; so a name is held against this list when a bench file is read, when a port is
resolved and again when it is opened. Another way to reach an instrument is added here.
"""

import re
from dataclasses import dataclass, field
from urllib.parse import parse_qsl, unquote_plus

MAX_NAME = 300
"""Longest name of a port [characters]."""
_HOST = r"(?:[a-z0-9](?:[a-z0-9._-]{0,252})|\[[0-9a-f:.]{2,45}\])"
_NUMBER = r":(?P<number>[0-9]{1,5})/?"
_ADDRESS = rf"{_HOST}(?::(?P<number>[0-9]{{1,5}}))?"
_LEVEL = r"(?:\+|[!\"$-*,-.0-~]*)"
"""One level of a topic: anything but ``+``, ``#`` and ``/``, or ``+`` alone (MQTT 3.1.1, 4.7.1)."""

_SECRET = re.compile(
    r"token|passw|passphrase|secret|credential|api.?key|jwt|bearer"
    r"|(?:^|[_.-])(?:key|pass|pwd|pw|auth|authorization|sig|signature)$",
    re.IGNORECASE,
)
"""Names of values in an address that are a password; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PortForm:
    """One form of a port's name.

    Attributes
    ----------
    name : str
        As ``form_of`` gives it.
    example : str
        As it is written.
    why : str
        Why it is taken, and what it can do at most.
    pattern : re.Pattern
        The whole name without options; ASCII letters of either case, and no others that some
        alphabet has as their other case.
    options : dict
        Pattern of the value of each option after ``?``.
    """

    name: str
    example: str
    why: str
    pattern: re.Pattern[str]
    options: dict[str, re.Pattern[str]] = field(default_factory=dict)


def _form(
    name: str, example: str, why: str, pattern: str, options: dict[str, str] | None = None
) -> PortForm:
    return PortForm(
        name=name,
        example=example,
        why=why,
        pattern=re.compile(pattern, re.IGNORECASE | re.ASCII),
        options={key: re.compile(value) for key, value in (options or {}).items()},
    )


FORMS: tuple[PortForm, ...] = (
    _form(
        "device", "/dev/ttyUSB0",
        "a serial port of this machine, also /dev/serial/by-id/...; opened only if it is a "
        "terminal",
        r"/(?!.*://)[^\x00-\x1f\x7f?*]+",
    ),
    _form(
        "com", "COM4", "a serial port of Windows", r"(?:\\\\\.\\)?COM[1-9][0-9]{0,2}",
    ),
    _form(
        "usb", "usb:vid=0403,pid=6001,serial=A9",
        "an adapter wherever it is plugged in, or whatever sits in one socket",
        r"usb:[^\x00-\x1f\x7f]+",
    ),
    _form(
        "socket", "socket://10.0.0.5:4001", "a serial server that passes bytes on",
        rf"socket://{_HOST}{_NUMBER}",
    ),
    _form(
        "rfc2217", "rfc2217://10.0.0.5:2217",
        "a serial server that also takes line settings (RFC 2217); its options only say how long "
        "to wait and what to ask",
        rf"rfc2217://{_HOST}{_NUMBER}",
        {"timeout": r"[0-9]{1,3}(?:\.[0-9]{1,3})?", "ign_set_control": "", "poll_modem": ""},
    ),
    _form(
        "http", "http://10.0.0.5/values.json",
        "a page that an instrument shows its values on; asked once a second, never written to",
        rf"https?://{_ADDRESS}(?:/[!-~]*)?",
    ),
    _form(
        "mqtt", "mqtt://10.0.0.5:1883/kitchen/pan",
        "a topic that an instrument publishes its values to (mqtts for TLS); only listened to",
        rf"mqtts?://{_ADDRESS}/(?=[!-~])(?:#|{_LEVEL}(?:/{_LEVEL})*(?:/#)?)",
    ),
    _form("none", "none", "no port: the readings come from an imported file", "none"),
    _form(
        "virtual", "virtual:scale", "no port: a simulated instrument that nothing is opened for",
        r"virtual:[a-z0-9_-]{1,40}",
    ),
)  # fmt: skip
"""Every form that is taken. Left out on purpose: ``spy`` (empties the file it is told to), ``alt``
(loads any class), ``hwgrep`` (a pattern; ``usb:`` does the same), ``loop``, ``cp2110``; and
``logging``, an option that changes the whole program's log."""

PORTLESS = ("none", "virtual")
"""Forms of instruments that are not on a port; opening one is refused."""


def form_of(port: str) -> PortForm:
    """Return the form of a port's name.

    Parameters
    ----------
    port : str
        As in a bench file.

    Raises
    ------
    ValueError
        If it has none, or an option that its form does not have; says what was found, then what
        would do, with ``;`` between.
    """
    if len(port) > MAX_NAME:
        raise ValueError(f"a name of {len(port)} characters; give at most {MAX_NAME}")
    secret = _secret_in(port)
    if secret:
        raise ValueError(
            f"{port.partition('://')[0][:10]}://... holds a password or token ({secret}=...); "
            "write the address without it, and set it in the environment, as hardware_notes.md says"
        )
    for form in FORMS:
        name, mark, query = port, "", ""
        if "://" in form.example and form.name not in ("http", "mqtt"):  # part of page or topic
            name, mark, query = port.partition("?")
        matched = form.pattern.fullmatch(name)
        if matched is None:
            continue
        number = matched.groupdict().get("number")
        if number is not None and not 0 < int(number) < 65536:
            raise ValueError(f"port number {number}; give one from 1 to 65535")
        if mark:
            _look_at_options(form, query)
        return form
    raise ValueError(_nearest(port))


def _secret_in(port: str) -> str:
    """Return what a password in the query of an address is called; empty where there is none."""
    if "://" not in port:
        return ""
    parts = re.split("[?&;#]", port)[1:]
    names = (unquote_plus(part.partition("=")[0]) for part in parts if "=" in part)
    return next((name[:20] for name in names if _SECRET.search(name)), "")


def _nearest(port: str) -> str:
    """Say what is wrong with a port's name, and how one of its kind is written."""
    scheme, mark, rest = port.partition("://")
    if "@" in rest.partition("/")[0]:
        return (
            f"{scheme[:10]}://... holds a name or password; write the address without it, and set "
            "them in the environment, as hardware_notes.md says"
        )
    mine = [
        form.example
        for form in FORMS
        if mark and form.example.startswith(f"{scheme.lower().removesuffix('s')}://")
    ]
    examples = ", ".join(mine or [f.example for f in FORMS if f.name not in PORTLESS])
    return f"{port[:60]!r} is not a port that can be read; write it like {examples}"


def _look_at_options(form: PortForm, query: str) -> None:
    taken = ", ".join(form.options) or "none"
    for key, value in parse_qsl(query, keep_blank_values=True) or [(query, "")]:
        wanted = form.options.get(key)
        if wanted is None:
            raise ValueError(f"unknown option {key[:40]!r}; {form.name}:// takes {taken}")
        if wanted.fullmatch(value) is None:
            raise ValueError(f"option {key}={value[:40]!r}; write {form.example}?{key}=3")
