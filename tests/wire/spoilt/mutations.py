"""What lines, cables and instruments do: each changes one thing in a stream, from one line on.

Each takes the lines, which of them it happens in, and a seeded choice; it gives the stream, or None
where there is nothing of that kind to change.
"""

import random
import re
from collections.abc import Callable, Sequence
from typing import NamedTuple

from logger.wire.units import CONVERSIONS, conversion
from tests.wire.spoilt.speaking import Tick, tick_of


class Said(NamedTuple):
    """Some bytes, and the values that may come of them: one of these for each field."""

    data: bytes
    true: tuple[dict[str, float], ...]


Ticks = Sequence[Tick]
Mutation = Callable[[Ticks, int, random.Random], "list[Said] | None"]


def plain(ticks: Ticks) -> list[Said]:
    return [Said(t.data(), (t.true,)) for t in ticks]


def _one(ticks: Ticks, at: int, text: str | None, *true: dict[str, float]) -> list[Said] | None:
    """Return a stream in which one line has another text."""
    if text is None or text == ticks[at].text:
        return None
    said = plain(ticks)
    said[at] = Said(ticks[at].data(text), true)
    return said


def _raw(ticks: Ticks, at: int, data: bytes) -> list[Said]:
    """Return a stream in which the bytes of one line are others; the next one may go on with it."""
    said = plain(ticks)
    true = (ticks[at].true,)
    said[at] = Said(data, true)
    if at + 1 < len(said):
        said[at + 1] = Said(said[at + 1].data, (*true, ticks[at + 1].true))
    return said


def _cell(tick: Tick, by: random.Random) -> tuple[str, int, int]:
    name = by.choice(sorted(n for n in tick.true if n in tick.spans))
    return name, *tick.spans[name]


def _with(tick: Tick, a: int, b: int, new: str) -> str:
    return tick.text[:a] + new + tick.text[b:]


def _changed(change: Callable[[bytes, random.Random], bytes]) -> Mutation:
    """Return what changes some bytes of a line, from a place on that is drawn."""

    def mutation(ticks: Ticks, at: int, by: random.Random) -> list[Said]:
        data = ticks[at].data()
        k = by.randrange(len(data))
        return _raw(ticks, at, data[:k] + change(data[k:], by))

    return mutation


BYTES: dict[str, Callable[[bytes, random.Random], bytes]] = {
    "a byte lost": lambda rest, by: rest[1:],
    "some bytes lost": lambda rest, by: rest[by.randrange(2, 7) :],
    "a byte doubled": lambda rest, by: rest[:1] + rest,
    "bit 7 turned": lambda rest, by: bytes([rest[0] ^ 0x80]) + rest[1:],
    "bit 7 of all set": lambda rest, by: bytes(c | 0x80 for c in rest),
    "a bit turned": lambda rest, by: bytes([rest[0] ^ 1 << by.randrange(7)]) + rest[1:],
    "NUL in place of a byte": lambda rest, by: b"\0" + rest[1:],
    "a row of NUL": lambda rest, by: b"\0" * 3 + rest[3:],
}


def cut_and_glued(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    first, second = ticks[at].data(), ticks[at + 1].data()
    said = _raw(ticks, at, first[: by.randrange(len(first))])
    said[at + 1] = said[at + 1]._replace(data=second[by.randrange(len(second)) :])
    return said


def end_lost(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    end = ticks[at].shape.frame.end.encode("latin-1")
    data = ticks[at].data()
    k = data.rindex(end) if end in data else len(data)
    return _raw(ticks, at, data[:k].rstrip(b"\r") + data[k + len(end) :])


def behind_lost(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    text = ticks[at].text
    return _one(ticks, at, text[: by.randrange(len(text))], ticks[at].true)


def front_lost(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    text = ticks[at].text
    return _one(ticks, at, text[by.randrange(1, len(text)) :], ticks[at].true)


def point_lost(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    _, a, b = _cell(ticks[at], by)
    old = ticks[at].text[a:b]
    new = re.sub("[.,](?=[^.,]*$)", by.choice(("", " ")), old)
    return _one(ticks, at, _with(ticks[at], a, b, new), ticks[at].true)


def sign_lost(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    text = ticks[at].text
    signs = [m.start() for m in re.finditer("[-−](?= *[0-9])|(?<=[0-9])-", text)]
    if not signs or min(ticks[at].true.values()) >= 0:
        return None
    k = by.choice(signs)
    return _one(ticks, at, text[:k] + by.choice(("", " ")) + text[k + 1 :], ticks[at].true)


def unit_changed(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    """From one line on another unit is printed, and the number is in it."""
    spans = ticks[at].spans
    named = [n for n in ticks[at].true if f"unit {n}" in spans]
    if len(named) != len(ticks[at].true) or len(named) != 1 or not ticks[at].spans.get(named[0]):
        return None
    name = named[0]
    field = ticks[at].shape.channel[name]
    if field.width or field.places_group or field.reversed or field.without or field.equals:
        return None
    u, v = spans[f"unit {name}"]
    old = ticks[at].text[u:v].strip()
    others = [
        w
        for w in ("g", "kg", "oz", "lb", "C", "F", "K", "°C", "°F")
        if w in CONVERSIONS[field.quantity] and w != old
    ]
    new = by.choice(others)
    said = plain(ticks)
    how = conversion(field.quantity, new)
    for n in range(at, len(ticks)):
        a, b = ticks[n].spans[name]
        u, v = ticks[n].spans[f"unit {name}"]
        sent = (ticks[n].true[name] - how.offset) / how.factor
        text = f"{abs(sent):.2f}".replace(".", field.decimal)
        text = ("-" if sent < 0 else "") + text
        text = text.rjust(b - a) if b - a > len(text) else text
        printed = _with(ticks[n], u, v, new) if u > a else ticks[n].text
        printed = printed[:a] + text + printed[b:]
        if u < a:
            printed = printed[:u] + new + printed[v:]
        true = round(float(f"{sent:.2f}") * how.factor + how.offset, 9)
        said[n] = Said(ticks[n].data(printed), ({name: true},))
    return said


def unit_unknown(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    spans = [s for n, s in ticks[at].spans.items() if n.startswith("unit ")]
    text = ticks[at].text
    if not spans:
        b = max(end for name, (_, end) in ticks[at].spans.items())
        named = re.compile(r" ?[°º*' ]?(kg|g|C|F|K|KG|LB)(?![A-Za-z])").match(text, b)
        spans = [named.span(1)] if named else []
    spans = [s for s in spans if text[s[0] : s[1]].strip()]
    if not spans or (ticks[at].shape.decode == "json" and not spans):
        return None
    a, b = by.choice(spans)
    new = by.choice(
        ("ml", "pcs", "%", "N", "t", "Pa", "V", "dwt", "g/l", "kg/m", "C/min", "mC", "K*")
    )
    return _one(ticks, at, _with(ticks[at], a, b, new))


def to_fahrenheit(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    """From one line on numbers whose unit the lines don't say are in degF."""
    shape = ticks[at].shape
    if any(n.startswith("unit ") for n in ticks[at].spans):
        return None
    if any(
        f.quantity != "temperature" or f.sent_unit not in ("degC", "C")
        for f in shape.channel.values()
    ):
        return None
    if not shape.unsaid:
        return None
    said = plain(ticks)
    for n in range(at, len(ticks)):
        text = ticks[n].text
        for name, (a, b) in sorted(ticks[n].spans.items(), key=lambda s: -s[1][0]):
            field = shape.channel[name]
            if field.places_group or field.reversed or field.scale != 1:
                return None
            old = text[a:b]
            places = len(re.split("[eE]", old.partition(field.decimal)[2])[0])
            number = f"{ticks[n].true[name] * 1.8 + 32:.{places}f}".replace(".", field.decimal)
            if "e" in old.lower():
                number = f"{ticks[n].true[name] * 1.8 + 32:+.{places}E}"
            text = text[:a] + number.rjust(b - a) + text[b:]
        said[n] = Said(ticks[n].data(text), (ticks[n].true,))
    return said


def swapped(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    names = [n for n in ticks[at].spans if n in ticks[at].true]
    if len(names) < 2:
        return None
    one, two = by.sample(names, 2)
    said = plain(ticks)
    for n in range(at, len(ticks)):
        (a, b), (c, d) = sorted((ticks[n].spans[one], ticks[n].spans[two]))
        text = ticks[n].text
        text = text[:a] + text[c:d] + text[b:c] + text[a:b] + text[d:]
        said[n] = Said(ticks[n].data(text), (ticks[n].true,))
    return said


SENTINELS = {
    "temperature": """
        -127.00 -127 85.00 9999 9999.0 -999.9 999.9 32767 nan NaN ---- --.- OL OPEN Err 0.00 1372.0
        - inf null 2500.0 3276.7 1e38 9.9E37 -200.0 850.0 **** none N/A""",
    "mass": """
        ----- OL 99999.9 999999 9999999 Err ***** ^^^^^^ ______ nan - HHHHH 1e38 inf null E1
        88888.8""",
    "emf": "nan null - OPEN",
}
"""What instruments print for no value; common practice, no source."""


def sentinel(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    name, a, b = _cell(ticks[at], by)
    shape = ticks[at].shape
    word = by.choice(SENTINELS[shape.channel[name].quantity].split())
    if word in ("85.00", "-200.0", "850.0", "2500.0") and shape.channel[name].sent_unit != "degC":
        return None  # only a sensor that measures in degC says so
    if shape.channel[name].decimal == ",":
        word = word.replace(".", ",")
    true = {n: v for n, v in ticks[at].true.items() if n != name}
    word = word.rjust(b - a) if by.random() < 0.5 else word
    return _one(ticks, at, _with(ticks[at], a, b, word), true)


def leading_zeros(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    _, a, b = _cell(ticks[at], by)
    new = re.sub(r"(\d)", r"00\1", ticks[at].text[a:b], count=1)
    return _one(ticks, at, _with(ticks[at], a, b, new), ticks[at].true)


def extra_column(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    sep = by.choice((",", ";", " ", "\t", "  ", ", ", ""))
    more = by.choice(("17.3", "1", "45.0", "0", "-3.2", "100"))
    text = ticks[at].text
    return _one(ticks, at, by.choice((text + sep + more, more + sep + text)), ticks[at].true)


def extra_column_from_here(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    sep = by.choice((",", ";", " ", "\t", "  ", ", "))
    more, ahead = by.choice(("17.3", "1", "45.0", "0")), by.random() < 0.5
    said = plain(ticks)
    for n in range(at, len(ticks)):
        text = more + sep + ticks[n].text if ahead else ticks[n].text + sep + more
        said[n] = Said(ticks[n].data(text), (ticks[n].true,))
    return said


def label_changed(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    """One line is about something else: the word ahead of a value is another one."""
    tick = ticks[at]
    name, a, _ = _cell(tick, by)
    units = [s for n, s in tick.spans.items() if n.startswith("unit ")]
    words = [
        m
        for m in re.finditer(r"[A-Za-z][A-Za-z ]*[A-Za-z]|[A-Za-z]", tick.text[:a])
        if m.span() not in units and m[0] not in ("e", "E", "Grad C")
    ]
    if not words or any(a < words[-1].start() for n, (a, _) in tick.spans.items() if n != name):
        return None
    new = by.choice(LABELS)
    true = {n: v for n, v in tick.true.items() if n != name}
    return _one(ticks, at, _with(tick, *words[-1].span(), new), true)


LABELS = (
    "MIN", "Max", "SET", "AVG", "TARE", "Tare", "SP", "Total", "HOLD", "CAL", "low", "Hi", "Delta",
)  # fmt: skip


def letter_changed(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    tick = ticks[at]
    places = [m.start() for m in re.finditer("[A-Za-z]", tick.text)]
    if not places:
        return None
    k = by.choice(places)
    letter = by.choice("ABDHILMNOPQRSTUXYZabdehlmnopstxyz")
    return _one(ticks, at, tick.text[:k] + letter + tick.text[k + 1 :], tick.true)


def other_case(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    text = by.choice((str.upper, str.lower, str.swapcase))(ticks[at].text)
    return _one(ticks, at, text, ticks[at].true)


def other_encoding(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    text = ticks[at].text
    kind = by.choice(("comma", "utf-16", "bom", "degree", "wide"))
    if kind == "comma":
        swapped_marks = text.translate(str.maketrans(".,", ",."))
        return _one(ticks, at, swapped_marks, ticks[at].true)
    end = ticks[at].data()[len(ticks[at].before) :][-2:]
    data = {
        "utf-16": text.encode("utf-16-le") + end,
        "bom": b"\xef\xbb\xbf" + text.encode() + end,
        "degree": re.sub("[°*ºø]", "\\\\xf8", text)
        .encode("latin-1", "replace")
        .replace(b"\\xf8", b"\xf8")
        + end,
        "wide": text.translate({c: c + 0xFEE0 for c in range(0x30, 0x3A)}).encode() + end,
    }[kind]
    return _raw(ticks, at, data)


def echo(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    shape = ticks[at].shape
    asked = (
        shape.ask.send
        if shape.ask != "none"
        else by.choice(("SI\r\n", "W\r", "P", "T1?", "READ?\n"))
    )
    k = by.randrange(len(asked) + 1)
    echoed = by.choice((asked, asked.strip(), asked[:k], asked[k:])).encode("latin-1")
    return _raw(ticks, at, echoed + ticks[at].data())


def other_lines(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    """Another instrument of the same kind speaks on the line, from one moment on."""
    shape = ticks[at].shape
    said = plain(ticks)
    for n in range(at, len(ticks)):
        other = tick_of(shape, b"", ticks[n].text, 3, n * 0.4)
        if other is None:
            return None
        said[n] = Said(said[n].data, said[n].true)
        said[n] = Said(ticks[n].data(), (ticks[n].true,))
        said[n] = said[n]._replace(data=said[n].data + other.data(), true=said[n].true)
    return said


def collided(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    """Two instruments speak at the same time: their bytes are mixed."""
    first, second = list(ticks[at].data()), list(ticks[at + 1].data())
    mixed = []
    while first or second:
        mixed.append((first if first and (not second or by.random() < 0.5) else second).pop(0))
    return _raw(ticks, at, bytes(mixed))


def restart(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    data = ticks[at].data()
    banner = by.choice((
        b"\r\nets Jun  8 2016 00:22:57\r\nrst:0x1 (POWERON_RESET),boot:0x13\r\n",
        b"\x00\x00Board v1.2 ready\r\n", b"\r\n\r\nHello 1.0\r\n", b"\x02SCALE 3.10\r",
        b"\xff\xfe\x00",
        b"Version 2.4\n", b"self test 100 %\r\n", b"1.05\r\n", b"Capacity 6000.0 g\r\n",
    ))  # fmt: skip
    return _raw(ticks, at, data[: by.randrange(len(data))] + banner)


def noise(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    data = bytes(by.randrange(256) for _ in range(by.randrange(1, 30)))
    return _raw(ticks, at, data + ticks[at].data())


def thousands(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    said = plain(ticks)
    done = False
    for n in range(at, len(ticks)):
        text = ticks[n].text
        for _, (a, b) in sorted(ticks[n].spans.items(), key=lambda s: -s[1][0]):
            mark = "," if ticks[n].shape.frame and "," not in text[a:b] else "."
            new = re.sub(r"(?<=\d)(?=\d{3}(?!\d))", mark, text[a:b], count=1)
            done |= new != text[a:b]
            text = text[:a] + new + text[b:]
        said[n] = Said(ticks[n].data(text), (ticks[n].true,))
    return said if done else None


def exponent(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    _, a, b = _cell(ticks[at], by)
    old = ticks[at].text[a:b].replace(" ", "").replace(",", ".")
    try:
        new = f"{float(old):.9E}"
    except ValueError:
        return None
    return _one(ticks, at, _with(ticks[at], a, b, new), ticks[at].true)


def blanks(ticks: Ticks, at: int, by: random.Random) -> list[Said] | None:
    """A blank stands inside of the number, or in place of a digit."""
    _, a, b = _cell(ticks[at], by)
    places = [k for k in range(a, b) if ticks[at].text[k].isdigit()]
    k = by.choice(places)
    text = ticks[at].text
    return _one(ticks, at, text[:k] + " " + text[k + by.randrange(2) :], ticks[at].true)


MUTATIONS: dict[str, Mutation] = {name: _changed(change) for name, change in BYTES.items()} | {
    f.__name__.replace("_", " "): f
    for f in (
        cut_and_glued, end_lost, behind_lost, front_lost, point_lost, sign_lost, unit_changed,
        unit_unknown, to_fahrenheit, swapped, sentinel, leading_zeros, extra_column,
        extra_column_from_here, label_changed, letter_changed, other_case, other_encoding, echo,
        other_lines, collided, restart, noise, thousands, exponent, blanks,
    )
}  # fmt: skip
