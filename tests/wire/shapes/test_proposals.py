"""What is proposed records, and no part of a line is ever a value."""

from tests.wire.shapes.proposals import a_proposal_records, a_value_is_whole, tried


def test_a_proposal_that_cannot_record_is_never_made():
    tried(a_proposal_records, 40, again=True)


def test_no_line_that_is_not_a_whole_value_of_its_format_gives_a_value():
    tried(a_value_is_whole, 300, again=True)
