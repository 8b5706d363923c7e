"""The built-in line formats that the virtual bench can print, in one unit each."""

from logger.wire.shapes.shape import Shape, builtin_shapes


def written_shapes() -> dict[str, Shape]:
    """Return them by name."""
    return {
        name: shape
        for name, shape in builtin_shapes().items()
        if not shape.like
        and (shape.decode != "lines" or any(r.means == "reading" and r.write for r in shape.line))
    }
