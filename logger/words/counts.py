"""How many of a thing.

Pure text.
"""


def count_text(count: int, one: str, many: str | None = None) -> str:
    """Write a count in digits: ``"1 piece"``, ``"12 pieces"``.

    Parameters
    ----------
    count : int
        How many [1].
    one : str
        A single one.
    many : str, optional
        Several; by default `one` with an s.
    """
    return f"{count} {one if count == 1 else many or one + 's'}"
