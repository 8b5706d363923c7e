"""Results become JSON and come back as the same records."""

import json

from logger.model.finding import Finding, Results
from logger.model.plainly import results_as_json, results_from
from logger.model.rows import CostRow, OwnFatRow, TareRow

COST = CostRow(currency="EUR", batch=4.2, kg=11.0, without=["stock"], says="Cost: 4.20 EUR")
FAT = OwnFatRow(
    key="lot_412", toml="x", onset_c=22.0, u_onset_k=0.3, plateau_c=24.0, u_plateau_k=0.4
)


def there_and_back(results):
    return results_from(json.loads(json.dumps(results_as_json(results))))


def test_results_come_back_as_they_were():
    finding = Finding(key="weigh.mass_g", subject="fat", check="f", stage="weigh", verdict="met")
    results = Results(
        findings=[finding],
        tares=[TareRow(channel="bath_scale", from_s=3.0, offset_g=1.5)],
        cost=COST,
        own_fat=FAT,
        values={"mixing_temp_c": 45.2},
    )
    assert there_and_back(results) == results


def test_cost_and_a_measured_fat_are_among_the_values_of_json():
    found = results_as_json(Results(cost=COST, own_fat=FAT))
    assert found["values"]["cost"]["batch"] == 4.2
    assert found["values"]["own_fat"]["key"] == "lot_412"
    assert not {"cost", "own_fat", "tares"} & set(found)
    assert results_as_json(Results())["values"] == {}


def test_a_value_that_a_person_named_cost_stays_a_value():
    results = Results(values={"cost": 12.5, "own_fat": "lard"})
    assert there_and_back(results) == results
