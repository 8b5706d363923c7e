"""Hostile sheets and lines for the control line; the same ones each time."""

import json
import random
from collections.abc import Iterator

SEED = 20_261_125

TOP = '[sheet]\nname = "x"\n[[stage]]\nid = "a"\nkind = "heat"\n'
ITEM = '[[ingredient]]\nname = "a{n}"\nphase = "fat"\nmass = "{mass}"\n'
MASSES = [
    "1 g**9**9**9", "9**9**9**9 g", "1 " + "g*" * 20_000 + "g", "1e999999 g", "NaN g", "-inf kg",
    "1" * 4_000 + " g", "1 (((((((((g))))))))))", "1 g/" + "(" * 3_000, "\\u0000", "1 g^1e9",
    "1 planck_mass**40", "  ", "1 g or 2", "٣ g", "1 g" + " " * 9_000,
]  # fmt: skip
LONG = [
    "a = " + "[" * 100_000, "a = " + "{b=" * 50_000, "[" + ".".join("a" * 50_000) + "]",
    "#" * 999_000,
    "a = " + "9" * 100_000, TOP + "".join(ITEM.format(n=n, mass="1 g") for n in range(12_000)),
    "[[stage]]\n" * 90_000, 'a = "' + "x" * 900_000 + '"', "x = 1\n" * 100_000, "\x00" * 500_000,
    TOP + "".join(f'[[stage]]\nid = "s{n}"\nkind = "set"\n' for n in range(8_000)),
]  # fmt: skip


def sheets(count: int) -> Iterator[str]:
    """Yield hostile sheets: one long in ten, the others with a hostile mass."""
    drawn = random.Random(SEED)
    for n in range(count):
        if n % 10 == 9:
            yield LONG[n // 10 % len(LONG)]
        else:
            yield TOP + ITEM.format(n=n, mass=MASSES[drawn.randrange(len(MASSES))])


def commands(count: int, token: str) -> Iterator[bytes]:
    """Yield lines for the control line: wrong types, sizes, depths, tokens, keys and characters."""
    drawn = random.Random(SEED)
    deep = json.dumps(json.loads("[" * 900 + "]" * 900))
    many = json.dumps({str(n): n for n in range(130_000)})
    values = [
        "5", "[]", "{}", "null", "true", '"x"', "1e999", "NaN", "9" * 4_000, "9" * 5_000, deep,
        many, '"\\ud800"', '["a", 3, {}]', '"' + "x" * 900_000 + '"', "-1", "0.5",
        '{"a": 1, "a": 2}', "[" * 50_000,
    ]  # fmt: skip
    keys = ("outcome", "defects", "text", "run", "piece", "mass_g", "immersion", "alarm", "for_s",
            "proposal", "stage", "name", "value", "event", "sheet", "channel", "role")  # fmt: skip
    words = ("outcome", "outcome", "outcome", "note", "mark", "register_piece", "confirm_piece",
             "ack", "shelve", "accept", "set_value", "undo", "stage", "set_role", "check_begin",
             "save_sheet", "check_end", "fly", "run_start")  # fmt: skip
    for n in range(count):
        data = f'{{"{drawn.choice(keys)}": {drawn.choice(values)}}}'
        if n % 10 == 0:
            data = drawn.choice(values)
        who = "guess" if n % 10 == 5 else token
        line = f'{{"token": "{who}", "do": "{drawn.choice(words)}", "data": {data}}}\n'.encode()
        yield line if n % 25 else b'{"token": 5, \xff' + line
