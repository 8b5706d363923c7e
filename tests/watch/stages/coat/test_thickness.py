"""A coat's thickness is geometry with the doubt of its shape; what it may weigh is a range."""

import math

import pytest

from logger.batch.amounts import coat_amounts
from logger.model.files import sheet_from_text
from logger.science.gel.coating import Body, coat_mass_g
from logger.watch.stages.coat.thickness import USUAL_PICKUP_G, Thickness, needed_for
from tests.watch.ingredients import HEAD, coat_and_bath

BODY = Body(shape="sphere", diameter_mm=40.0)
SHEET = sheet_from_text(HEAD + coat_and_bath(10), "s")
AMOUNTS = coat_amounts(SHEET)
COAT_G = AMOUNTS.density_kg_m3 * 4.0 / 3.0 * math.pi * (0.021**3 - 0.020**3) * 1e3


def test_a_sphere_with_a_millimetre_of_coat():
    """4/3 pi (21^3 - 20^3) mm3; the doubt is of the mass, by the surface, and 3 % of the shape."""
    mm, u_mm = Thickness(BODY, AMOUNTS).of(COAT_G, 0.0, None, [])
    assert mm == pytest.approx(1.0, rel=1e-6)
    assert u_mm == pytest.approx(0.03, rel=1e-6)
    surface_g_mm = AMOUNTS.density_kg_m3 * 1e-6 * 4.0 * math.pi * 21.0**2
    _, u_mm = Thickness(BODY, AMOUNTS).of(COAT_G, 0.2, None, [])
    assert u_mm == pytest.approx(math.hypot(0.03, 0.2 / surface_g_mm), rel=1e-3)


def test_a_heavier_piece_has_the_same_coat_spread_thinner():
    """Eight times the mean mass is twice as wide and four times the surface."""
    same = Thickness(BODY, AMOUNTS).of(COAT_G, 0.0, 10.0, [10.0] * 3)[0]
    large = Thickness(BODY, AMOUNTS).of(COAT_G, 0.0, 80.0, [10.0] * 3)[0]
    assert same == pytest.approx(1.0, rel=1e-6)
    assert large == pytest.approx(0.25, rel=0.06)


def test_what_is_missing_for_a_thickness_is_said():
    none = Thickness(None, AMOUNTS)
    assert none.of(5.0, 0.1, None, [])[0] is None
    assert none.why_none() == "the sheet gives no shape of a piece"
    assert "no alginate" in Thickness(BODY, None).why_none()
    whole = Thickness(BODY, AMOUNTS)
    assert whole.of(-1.0, 0.1, None, [])[0] is None
    assert whole.why_none() == "no coat of that mass fits this piece"


def stage(more):
    text = HEAD + f'[[stage]]\nid = "c"\nkind = "coat"\n{more}\n'
    return sheet_from_text(text, "s").stage[-1]


def test_what_a_coat_may_weigh_is_the_sheets_range_and_thrice_it_at_most():
    pickup = stage('pickup = { low = "5 g", high = "12 g" }')
    assert Thickness(BODY, AMOUNTS).pickup_g(pickup) == ((5.0, 12.0), 36.0)
    tiny = stage('pickup = { low = "0.1 g", high = "0.2 g" }')
    assert Thickness(BODY, AMOUNTS).pickup_g(tiny)[1] == 1.0
    assert Thickness(None, AMOUNTS).pickup_g(stage("")) == (USUAL_PICKUP_G, 45.0)


def test_without_a_range_it_is_that_of_the_thickness_or_of_any_coat():
    def mass_g(mm):
        return coat_mass_g(mm, BODY, AMOUNTS.density_kg_m3)

    most_g = 0.5 * mass_g(20.0)
    thick = stage('thickness = { low = "0.5 mm", high = "1 mm" }')
    assert Thickness(BODY, AMOUNTS).pickup_g(thick) == (
        (mass_g(0.5), mass_g(1.0)), min(most_g, 3.0 * mass_g(1.0))
    )  # fmt: skip
    open_end = stage('thickness = { low = "0.5 mm" }')
    found, most = Thickness(BODY, AMOUNTS).pickup_g(open_end)
    assert (found, most) == ((mass_g(0.2), mass_g(1.5)), most_g)


SKIN = (
    '[[stage]]\nid = "skin"\nkind = "set"\npieces = 3\n'
    'piece = { body = "sphere", diameter = "40 mm" }\n'
)


def needed(make_context, coat_mm, bath_c=None, band=""):
    context = make_context("skin", sheet=HEAD + coat_and_bath(10) + SKIN + band)
    dwell, says = needed_for(context, context.stage, [], coat_mm, 3, bath_c, 5_000_000_000)
    assert says == ""
    return dwell.likely_s


def test_the_needed_dwell_goes_by_the_probe_then_by_the_sheets_band_then_by_20_degrees(
    make_context,
):
    by_20 = needed(make_context, 0.6, 20.0)
    assert needed(make_context, 0.6) == pytest.approx(by_20)
    band = 'bath = { low = "28 degC", high = "32 degC" }\n'
    assert needed(make_context, 0.6, band=band) == pytest.approx(needed(make_context, 0.6, 30.0))
    assert needed(make_context, 0.6, 20.0, band) == pytest.approx(by_20)
    assert needed(make_context, 0.6, 30.0) < by_20 < needed(make_context, 0.9, 20.0)


def test_a_bath_that_cannot_set_all_coats_is_refused(make_context):
    context = make_context("skin", sheet=HEAD + coat_and_bath(10) + SKIN)
    _, says = needed_for(context, context.stage, [0.6], 0.6, 5000, 20.0, 0)
    assert says.startswith("This bath cannot set these coats")
