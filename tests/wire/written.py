"""The built-in line formats that the virtual bench prints, in one unit each."""

from logger.wire.shapes.shape import Shape, builtin_shapes


def written_shapes() -> dict[str, Shape]:
    """Return them by name; formats with samples are tested by these, in ``test_samples``."""
    return {
        name: shape
        for name, shape in builtin_shapes().items()
        if not shape.like and not shape.sample
    }
