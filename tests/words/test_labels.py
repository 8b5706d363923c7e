"""A check is called by its key and its subject."""

import pytest

from logger.words.labels import check_label, range_subject


@pytest.mark.parametrize(
    ("key", "subject", "label"),
    [
        ("weigh.mass_g", "oat fibre", "mass of oat fibre"),
        ("weigh.mass_g", "50 % {fibre}", "mass of 50 % {fibre}"),
        ("hydrate.time_s", "", "time for the mix"),
        ("hydrate.time_s", "alginate", "time for alginate"),
        ("chill.cooling_s", "-18", "cooling to \u221218 °C"),
        ("cook.at_core_s", "72.5", "time at 72.5 °C or more"),
        ("fat_curve.plateau_c", "", "plateau"),
        ("fat_curve.plateau_c", "maximum", "plateau (maximum)"),
        ("run.danger_zone_s", range_subject(5.0, 57.2), "possible time between 5 and 57.2 °C"),
        ("set.dwell_s", "", "dwell"),
        ("figure.coat_mm", "", "mean coat thickness"),
    ],
)
def test_a_label_is_made_of_key_and_subject(key, subject, label):
    assert check_label(key, subject) == label
