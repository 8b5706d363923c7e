"""A JSON text in pieces says what it says whole, wherever they end; what is none is refused."""

import io
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.store.exchange import jsonpieces
from logger.store.exchange.jsonpieces import JsonPieces

VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=8),
    lambda p: st.lists(p, max_size=4) | st.dictionaries(st.text(max_size=4), p, max_size=4),
    max_leaves=12,
)  # fmt: skip


def pieces(text, size, monkeypatch):
    monkeypatch.setattr(jsonpieces, "PIECE", size)
    return JsonPieces(io.StringIO(text, newline=""))


@pytest.mark.parametrize("size", [1, 2, 3, 7, 50, 1 << 18])
def test_a_table_is_read_the_same_however_it_is_cut(size):
    @settings(max_examples=60, deadline=None)
    @given(st.dictionaries(st.text(max_size=5), VALUES, max_size=6), st.sampled_from([None, 1]))
    def read(data, indent):
        with pytest.MonkeyPatch.context() as patch:
            one = pieces(json.dumps(data, indent=indent), size, patch)
            assert {key: one.value(10_000) for key in one.keys(100)} == data
            one.end()

    read()


@pytest.mark.parametrize("size", [1, 2, 3, 7, 50, 1 << 18])
@pytest.mark.parametrize("numbers", [[], [1], [1.5, None, -2e-7, 10**18, 0], list(range(300))])
def test_a_list_of_numbers_is_the_same_however_it_is_cut(size, numbers, monkeypatch):
    one = pieces(json.dumps(numbers) + " ", size, monkeypatch)
    assert [n for piece in one.numbers() for n in piece] == numbers
    one.end()


@pytest.mark.parametrize("size", [1, 4, 1 << 18])
@pytest.mark.parametrize(
    "text",
    ["", "{", "[1,2,]", "[1,,2]", "[1 2]", "[1,2", '["a"', '["a]b"]', "[NaN]",
     "[" + "9" * 5000 + "]", "[[1]]", "[{}]", "[,1]", "[" + " " * 400_000 + "x]", "1", '{"a": 1}'],
)  # fmt: skip
def test_what_is_no_flat_list_is_refused_or_told_by_its_kinds(text, size, monkeypatch):
    one = pieces(text, size, monkeypatch)
    kinds: set[type] = set()
    said = ""
    try:
        for piece in one.numbers():
            kinds |= set(map(type, piece))
        one.end()
    except ValueError as cause:
        said = str(cause)
    assert (said and len(said) < 100) or not kinds <= {int, float, type(None)}


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ('{"a": 1, "a": 2}', "a key twice"), ('{"a" 1}', "expected :"), ('{"a": 1', "cut off"),
        ('{a: 1}', "in quotes"), ("[1]", "expected {"), ('{"a": [1, NaN]}', "NaN is not a number"),
        ('{"a": ' + "[" * 100_000, "nested too deeply|more than 90"),
        ('{"a": "' + "x" * 100 + '"', "more than 90"), ('{"a": tru}', "not JSON"),
        ('{"a": 1} {}', "after the end"), ("{" + '"k' + "k" * 2_000 + '": 1}', "more than 1000"),
        ('{"a":1,"b":1,"c":1,"d":1}', "more than 3 keys"), ('{"a": ' + "9" * 5_000 + "}", "digits"),
    ],
)  # fmt: skip
def test_what_is_no_table_of_short_values_is_refused(text, wrong, monkeypatch):
    one = pieces(text, 16, monkeypatch)
    most = 90 if "9" * 50 not in text else 9_000

    def read():
        for _ in one.keys(3):
            one.value(most)
        one.end()

    with pytest.raises(ValueError, match=wrong):
        read()


def test_elements_are_counted(monkeypatch):
    one = pieces("[1, [2], {}]", 3, monkeypatch)
    assert [(n, one.value(50)) for n in one.elements(3)] == [(1, 1), (2, [2]), (3, {})]
    one = pieces("[1, 2, 3]", 3, monkeypatch)
    with pytest.raises(ValueError, match="more than 2 elements"):
        [one.value(50) for _ in one.elements(2)]
