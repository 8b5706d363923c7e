"""Streams of every built-in line format, spoilt and mixed, and what may come of them.

Two properties, run by a test with few examples and by ``python -m tests.bench formats`` with many.
"""

import math
import re
from collections.abc import Callable

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from logger.model.files import bench_from_text
from logger.model.reading import Notice, RawReading
from logger.ports.finding.heard import Heard, bench_text
from logger.wire.checks import CHECKS
from logger.wire.recognise import LINES, Match, recognise, units_of
from logger.wire.samples import sample_bytes
from logger.wire.shapes.shape import Shape, builtin_shapes
from logger.wire.units import CONVERSIONS, converted
from tests.wire.conftest import feed, fresh, message, sample_values

SHAPES = builtin_shapes()
OWN = {name: shape for name, shape in SHAPES.items() if not shape.like}
"""Each format in one unit."""
TEXTS = sorted(
    name
    for name, shape in OWN.items()
    if shape.decode in ("lines", "json")
    # Of those their numbers stand nowhere as digits in a row.
    and not any(f.places_group or f.reversed or f.scale != 1 for f in shape.channel.values())
)
NUMBERS = [re.compile(rf"\d+(?:{point}\d+)?(?:[eE][+-]?\d+)?") for point in (r"\.", ",")]
SIGNS = " \t+-.,;:=*$%<>()[]{}\"'\x02\x03\r\nABCDEFGHIKLNORSTUVWabcdefgiklnorstu0123456789"


def line_of(shape: Shape, seed: int) -> bytes:
    """Return a line of a format: one of its samples, or as the virtual bench prints it."""
    if not shape.sample:
        return message(shape, sample_values(shape, seed % 97 / 2))
    sample = shape.sample[seed % len(shape.sample)]
    if shape.decode == "binary" or not sample.gives:
        return sample_bytes(shape, sample)
    digits = iter(f"{seed:040d}"[::-1])
    keep = seed % 3  # as printed, or the last digits of its numbers, or all but the first
    changed = re.sub(
        r"(?<=\d)\d(?!\d)" if keep == 1 else r"(?<=[\d.,])\d",
        lambda found: next(digits, found[0]),
        sample.sent,
    )
    return sample_bytes(shape, sample.model_copy(update={"sent": changed if keep else sample.sent}))


@st.composite
def spoilt_lines(draw: st.DrawFn, shape: Shape) -> bytes:
    """Draw a line of a format, cut, joined, or with other characters in it."""
    line = line_of(shape, draw(st.integers(0, 10**12)))
    how = draw(st.sampled_from(["front", "behind", "joined", "character", "more", "less"]))
    at = draw(st.integers(0, len(line) - 1))
    sign = draw(st.sampled_from(SIGNS)).encode()
    end = shape.frame.end.encode("latin-1")
    if how == "joined":
        return line[:at] + line_of(shape, draw(st.integers(0, 10**12)))
    return {
        "front": line[at:],
        "behind": line[:at] + end,
        "character": line[:at] + sign + line[at + 1 :],
        "more": line[:at] + sign + line[at:],
        "less": line[:at] + line[at + 1 :],
    }[how]


@st.composite
def streams(draw: st.DrawFn) -> bytes:
    """Draw what may be heard on a port: lines of one format or two, some spoilt, and others."""
    one = OWN[draw(st.sampled_from(sorted(OWN)))]
    other = OWN[draw(st.sampled_from(sorted(OWN)))]
    seed = draw(st.integers(0, 10**12))
    kinds = draw(st.lists(st.sampled_from("=====++~ox"), min_size=3, max_size=14))
    heard = b"x" + one.frame.end.encode("latin-1")
    for number, kind in enumerate(kinds):
        if kind in "=+":
            heard += line_of(one, seed if kind == "=" else seed + number * 7)
        elif kind == "o":
            heard += line_of(other, seed + number)
        else:
            heard += draw(spoilt_lines(one) if kind == "~" else st.just(b"ready\r\n"))
    return heard


def proposed(heard: bytes) -> list[tuple[Match, Shape]]:
    """Return the format that is proposed, in each unit that somebody may answer."""
    match = next((match for match in recognise(heard, SHAPES) if match.claimed), None)
    if match is None:
        return []
    shape = SHAPES[match.shape]
    units = units_of(shape, match) if shape.unsaid else ("",)
    return [(match, shape.in_unit(unit) if unit else shape) for unit in units]


def readings_of(out: list[RawReading | Notice]) -> list[RawReading]:
    """Return the readings that have a value."""
    return [o for o in out if isinstance(o, RawReading) and o.value is not None]


@given(streams())
def a_proposal_records(heard: bytes) -> None:
    """Whatever is proposed reads what was heard, and goes on to or says why it doesn't.

    A proposal that cannot record names no field, reads less than three values, or makes no bench.
    """
    for match, shape in proposed(heard):
        assert set(match.offered) <= set(shape.channel)
        reader = fresh(shape)
        for least in (LINES, 1):
            out = feed(reader, [heard])
            values = [o for o in readings_of(out) if o.field in match.offered]
            told = least == 1 and any(isinstance(o, Notice) and o.kind == "fault" for o in out)
            assert len(values) >= least or told, (match, heard)
            for one in values:
                assert one.unit == shape.channel[one.field].unit_out
                assert math.isfinite(one.value or 0.0)
        quantity = tuple(shape.channel[field].quantity for field in match.offered)
        told = Heard(
            port="/dev/p", device="p", description="", shape=shape.name, fields=match.offered,
            quantity=quantity, baud=9600, left_out=match.left_out,
        )  # fmt: skip
        recorded = bench_from_text(bench_text([told]), "bench.toml").instrument
        assert [one.shape in SHAPES for one in recorded] == [True], (match, heard)


def numbers_in(text: str, quantity: str) -> set[float]:
    """Return the size of each number that stands whole in a text, in every unit it may be in."""
    found = [float(n.replace(",", ".")) for numbers in NUMBERS for n in numbers.findall(text)]
    return {
        round(abs(converted(sign * number, how)), 6)
        for number in found
        for how in CONVERSIONS[quantity].values()
        for sign in (1, -1)
    }


@st.composite
def read_lines(draw: st.DrawFn) -> tuple[Shape, bytes]:
    """Draw a line of a format, mostly spoilt."""
    shape = OWN[draw(st.sampled_from(TEXTS))]
    whole = st.integers(0, 10**12).map(lambda seed: line_of(shape, seed))
    return shape, draw(st.one_of(spoilt_lines(shape), spoilt_lines(shape), whole))


@given(read_lines(), st.integers(0, 10**12))
def a_value_is_whole(drawn: tuple[Shape, bytes], seed: int) -> None:
    """Only a line that fits a rule of its format from end to end gives a value: a whole number.

    It is read alone, and behind a good line, whose form is remembered.
    """
    shape, line = drawn
    end = shape.frame.end.encode("latin-1")
    before = line_of(shape, seed)
    for reader, behind in ((fresh(shape), False), (fresh(shape), True)):
        if behind:
            feed(reader, [before])
        for one in feed(reader, [line]):
            if isinstance(one, RawReading) and one.value is not None:
                assert any(_fits(shape, part) for part in line.split(end)), (shape.name, line)
                # T1 spoilt to T5 is another probe of the line, of the same kind as those declared.
                like = shape.channel.get(one.field, next(iter(shape.channel.values())))
                text = line.decode("latin-1")
                for between in like.without:  # between thousands, or around the last digit
                    text = text.replace(between, "")
                assert round(abs(one.value), 6) in numbers_in(text, like.quantity), (one, line)


def _fits(shape: Shape, line: bytes) -> bool:
    """Whether a line without its end is whole, by the patterns themselves."""
    if shape.decode == "json":
        return line.strip()[-1:] == b"}"
    check = CHECKS.get(shape.frame.check)
    size = len(check.mark) + check.digits if check is not None else 0
    start = shape.frame.start.encode("latin-1")
    line = line.rpartition(start)[2] if start else line
    text = line.removesuffix(b"\r").lstrip(b"\0\x02").decode(shape.frame.encoding, "replace")
    text = text.removeprefix(shape.frame.prompt)
    checked = text[:-size] if size else text
    wholes = [rule.whole or rule.pattern for rule in shape.line if rule.means == "reading"]
    return any(
        re.fullmatch(whole, some, re.ASCII)
        for whole in wholes
        for some in (checked, checked.lstrip(" "), checked.rstrip(" "))
    )


def tried(prove: Callable[[], None], examples: int, *, again: bool) -> None:
    """Try a property.

    Parameters
    ----------
    prove : callable
        `a_proposal_records` or `a_value_is_whole`.
    examples : int
        How many streams or lines.
    again : bool
        Whether the same ones each time.
    """
    usual = settings(
        max_examples=examples,
        derandomize=again,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    usual(prove)()
