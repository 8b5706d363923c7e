"""Lines as others print them are recognised, each value as it was meant."""

import pytest

from logger.wire.recognise import best, read_last
from logger.wire.shapes.shape import builtin_shapes

SHAPES = builtin_shapes()
CRLF = b"\r\n"


@pytest.mark.parametrize(
    ("lines", "values"),
    [
        ([b"ST,GS,   +1.534  kg", b"ST,GS,   +1.535  kg", b"US,GS,   +1.600  kg"],
         {"mass": 1600.0}),
        ([b"  0512.3g", b"  0513.1g", b"  0514.0g"], {"mass": 514.0}),
        ([b"30.11.2026 15:53:5%d;   529.%d;g;S" % (n, n) for n in range(4)], {"mass": 529.3}),
        ([b"S  1,280.3 g", b"S  1,281.4 g", b"S  999.9 g"], {"mass": 999.9}),
        ([b"N    +512630.0 mg", b"N    +512640.0 mg", b"N    +512700.0 mg"], {"mass": 512.7}),
        ([b"+   527.3[5] g", b"+   527.4[0] g", b"+   528.0[1] g"], {"mass": 528.01}),
        ([b"GS   4.0%d0 kg;TR  1.195 kg;NT   2.8%d5 kg" % (n, n) for n in range(4)],
         {"mass": 2835.0}),
        ([line for n in range(4)
          for line in (b"No.   1%d" % n, b"TIME 15:5%d" % n, b"NET     529.%d g" % n, b"")],
         {"mass": 529.3}),
        ([f"2{n},5 \u00baC".encode() for n in range(4)], {"t1": 23.5}),
        ([f"2{n},5 \u00b0C".encode("latin-1") for n in range(4)], {"t1": 23.5}),
        ([f"2{n}.5 \u00baC".encode("latin-1") for n in range(4)], {"t1": 23.5}),
        ([b"T1=  29.%d \xb0C\tT2=  50.2 \xb0C" % n for n in range(4)], {"t1": 29.3, "t2": 50.2}),
        ([f"T1= 29.{n} \u00b0C\tT2= 50.2 \u00b0C".encode() for n in range(4)],
         {"t1": 29.3, "t2": 50.2}),
        ([b"Kern: 28,%d Grad C   Wasser: 51,2 Grad C" % n for n in range(4)],
         {"t1": 28.3, "t2": 51.2}),
        ([b"299.4%d K" % n for n in range(0, 8, 2)], {"t1": 26.31}),
        ([b"A 299.4%d K; B 50.0 F" % n for n in range(0, 8, 2)], {"t1": 26.31, "t2": 10.0}),
        ([b"T1  69.%d C T2  21.8 C T1-T2  47.%d C" % (n, n) for n in range(4)],
         {"t1": 69.3, "t2": 21.8}),
        ([b"PV  62.%d\xf8C SV  65.0\xf8C OUT  35%%" % n for n in range(4)], {"t1": 62.3}),
        ([line for n in range(4)
          for line in (b"   71%d.3 g G" % n, b"   200.0 g T", b"   51%d.3 g N" % n)],
         {"mass": 513.3}),
        ([b"CH%d: 6%d.%d C" % (n % 4 + 1, n % 4, n % 3) for n in range(12)],
         {"t1": 60.2, "t2": 61.0, "t3": 62.1, "t4": 63.2}),
        ([b"T: 23.%d C  H: 45.%d %%" % (n, n) for n in range(4)], {"t1": 23.3}),
        ([b"%04d    512.%d g" % (n, n) for n in range(4)], {"mass": 512.3}),
        ([b"RH= 46.%d %%RH T= 22.8 'C Td=  9.1 'C" % n for n in range(4)], {"t1": 22.8}),
    ],
)  # fmt: skip
def test_lines_are_recognised_and_read_as_meant(lines, values):
    end = b"\r" if lines[0].startswith(b"  0512") else CRLF
    heard = end + end.join([*lines, b""])
    name = best(heard, SHAPES)
    assert name is not None
    last = read_last(heard, SHAPES[name])
    assert {field: round(r.value, 6) for field, r in last.items()} == values


@pytest.mark.parametrize(
    "line",
    [
        b"S  1,280 g", b"S  12,80.3 g", b"S  1280,3 g", b"S  1,280.3 kg",
        b"Soll: 65,%d Grad C", b"5.%d K", b"ST,GS, +1.53%d  kg", b"U/W   2.51%d g",
        b"SV  65.%d\xf8C", b"Td=  9.%d 'C", b"T1-T2  47.%d C",
        b"25.%d C 80.0 F", b"25.%d C 78.0 F 310.2 K", b"25.%d g 0.95 oz", b"1.25%d kg / 2.2 lb",
        b"GS 813.%d g TR 200.0 g NT 663.5 g", b"G 4.06%d kg T 205 g N 2.855 kg",
    ],
)  # fmt: skip
def test_what_may_mean_something_else_is_not_claimed(line):
    lines = [line % n if b"%d" in line else line for n in range(1, 6)]
    assert best(CRLF + CRLF.join([*lines, b""]), SHAPES) is None
