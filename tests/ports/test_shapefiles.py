"""Line shapes of the user's own are read beside the built-in ones, and tried first."""

import pytest

from logger.model.errors import InputError
from logger.ports.shapefiles import load_shapes, try_patterns
from logger.wire.shapes.shape import builtin_shapes

OWN = """[shape."my board"]
columns = { count = 3 }
"""


def one_pattern(pattern: str) -> str:
    return f"""[shape."mine"]
frame.max = 2000
channel.t1 = {{ group = "a" }}
line = [{{ means = "reading", pattern = '{pattern}' }}]
"""


def test_no_built_in_pattern_can_run_away():
    try_patterns(builtin_shapes(), "built in")


def test_own_shapes_stand_beside_the_built_in_ones(tmp_path):
    file = tmp_path / "kitchen.shapes.toml"
    file.write_text(OWN)
    for paths in ([file], [tmp_path]):
        shapes = load_shapes(paths)
        assert "my board" in shapes
        assert set(builtin_shapes()) < set(shapes)


def test_without_files_nothing_is_tried():
    assert load_shapes([]) == builtin_shapes()


def test_the_name_of_a_built_in_shape_is_taken(tmp_path):
    file = tmp_path / "a.shapes.toml"
    file.write_text(OWN.replace("my board", "comma list of probes"))
    with pytest.raises(InputError, match="is also in the built-in line formats"):
        load_shapes([file])


@pytest.mark.parametrize(
    "pattern",
    [
        r"(?P<a>\d*)\d*\d*\d*\d*x",
        "(?P<a>" + "a?" * 28 + "a" * 28 + ")",
        r".*.*.*.*.*(?P<a>\d)",
    ],
)
def test_a_pattern_that_takes_too_long_is_refused_with_its_shape(pattern, tmp_path):
    """None of these repeats is nested, yet each takes minutes on a line of 2000 characters."""
    file = tmp_path / "slow.shapes.toml"
    file.write_text(one_pattern(pattern))
    with pytest.raises(InputError, match=r'slow.shapes.toml: shape."mine": pattern'):
        load_shapes([file])


def test_a_nested_repeat_is_refused_without_being_run(tmp_path):
    file = tmp_path / "wild.shapes.toml"
    file.write_text(one_pattern(r"(?P<a>(\d+)+)x"))
    with pytest.raises(InputError, match="run away"):
        load_shapes([file])


def test_files_that_cannot_be_read_are_told(tmp_path):
    with pytest.raises(InputError, match="cannot be read"):
        load_shapes([tmp_path / "none.toml"])
    (tmp_path / "binary.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(InputError, match="UTF-8"):
        load_shapes([tmp_path / "binary.toml"])
