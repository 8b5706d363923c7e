"""What a bath holds: its volume, and the share of its calcium that coats bind."""

import csv
import dataclasses

import pytest

from logger.batch.amounts import bath_amounts, body_of, coat_amounts, set_stage_of
from logger.model.files import sheet_from_text
from logger.science.gel.coating import coat_volume_mm3
from logger.watch.stages.set.skin import skin_clock
from tests.skin_sheet import SHEET

STRONG = sheet_from_text(SHEET.replace('"20 g"', '"200 g"').replace("1980 g", "1800 g"), "s")
SALT_MOL = 200.0 / (40.078 + 2 * 35.453 + 2 * 18.015)  # CaCl2 2 H2O, IUPAC weights


@pytest.mark.parametrize(("at_c", "share"), [("20", "0.05"), ("5", "0.1"), ("20", "0.2")])
def test_the_volume_of_a_bath_is_its_mass_over_the_published_density(fixtures, at_c, share):
    """fixtures/published/cacl2_density.csv: Laliberte (2009), doi:10.1021/je8008123."""
    with (fixtures / "published" / "cacl2_density.csv").open(encoding="utf-8") as lines:
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    (density,) = [
        float(r["density_kg_m3"])
        for r in rows
        if r["temp_c"] == at_c and r["mass_fraction"] == share
    ]
    bath = dataclasses.replace(bath_amounts(STRONG), mass_fraction=float(share), mass_g=2000.0)
    assert bath.volume_ml(float(at_c)) == pytest.approx(2e6 / density, rel=2e-4)


def test_the_calcium_that_coats_bind_is_a_share_of_the_salt_that_was_weighed_in():
    """Moles over moles, no density needed: 200 g of the dihydrate hold 1.3604 mol."""
    assert pytest.approx(1.3604, abs=1e-4) == SALT_MOL
    clock = skin_clock(STRONG, set_stage_of(STRONG))
    clock.begin([0.6], 40)
    coats_mol = 40 * coat_volume_mm3(0.6, body_of(STRONG)) * 1e-9
    coats_mol *= coat_amounts(STRONG).capacity_mol_m3
    assert clock.demand == pytest.approx(coats_mol / SALT_MOL, rel=1e-3)
