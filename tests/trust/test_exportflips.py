"""No flipped bit of an export is taken in unsaid."""

from tests.trust.exportflips import WRONG, exports, flips


def test_no_flipped_bit_of_an_export_is_imported_unsaid(tmp_path):
    """``python -m tests.trust.exportflips 300`` for more of them."""
    wrong, seen = [], 0
    for kind, place in exports(tmp_path).items():
        for flip in flips(place, kind, 6, seed=7):
            seen += 1
            wrong += [flip] if flip.outcome in WRONG else []
    assert wrong == []
    assert seen == 9 * 6
