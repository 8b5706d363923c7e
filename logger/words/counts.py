"""How many of a thing: digits in tables and labels, words inside sentences.

Pure text.
"""

_WORDS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
)  # fmt: skip


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


def count_in_words(count: int, one: str, many: str | None = None) -> str:
    """Write a count for a sentence, in words up to ten: ``"three pieces"``, ``"no piece"``.

    Parameters
    ----------
    count : int
        How many [1].
    one : str
        A single one; also used of none.
    many : str, optional
        Several; by default `one` with an s.
    """
    if not 0 <= count < len(_WORDS):
        return count_text(count, one, many)
    return f"{_WORDS[count]} {one if count < 2 else many or one + 's'}"
