"""Weighing in, bowl by bowl, as acts of the cook. Pure."""

from logger.virtual.batch.circumstances import ALGINATE_SHARE, BATH_WATER_G, SALT_G
from logger.virtual.batch.cook import Cook, bath_is_ready, clear_bench
from logger.virtual.batch.ware import BOWL_G, FRIDGE_C


def act(cook: Cook) -> None:
    """Weigh all ingredients in, a bowl for each phase."""
    batch = cook.batch
    coat_g_all = 500.0
    fat = "cocoa butter" if batch.fat == "cocoa_butter" else "coconut fat"
    bowls = (
        (210.0, {fat: batch.fat_g}),
        (
            BOWL_G,
            {
                "smoked beet stock": batch.water_g - 11.0,
                "barley malt binder": 6.0,
                "salt": 5.0,
            },
        ),
        (180.0, {"cooked barley": 120.0}),
        (
            264.0,
            {
                "coating water": coat_g_all * (1.0 - ALGINATE_SHARE),
                "sodium alginate": coat_g_all * ALGINATE_SHARE,
            },
        ),
        (96.0, {"bath water": BATH_WATER_G, "calcium chloride": SALT_G}),
    )
    for bowl_g, contents in bowls:
        cook.takes(5.0)
        cook.script.bench.put(cook.now, bowl_g, 0.4)
        cook.takes(4.0)
        cook.script.bench.tares_s.append(cook.now)
        on_g = bowl_g
        for name, mass_g in contents.items():
            if name == "calcium chloride" and not batch.calcium_weighed:
                cook.say("note", text="bath kept from last time, no fresh calcium")
                continue
            on_g += _weigh_in(cook, name, mass_g)
        cook.takes(2.5)
        clear_bench(cook, on_g)
    if batch.bath_c > FRIDGE_C:
        bath_is_ready(cook)
    for name in batch.new_lots:
        cook.say("note", text=f"new lot: {name}")
    cook.takes(4.0)


def _weigh_in(cook: Cook, name: str, mass_g: float) -> float:
    """Add an ingredient in three spoonfuls or pours, wait, mark; give what went in [g]."""
    bench = cook.script.bench
    off_g = float(cook.rng.normal(0.0, 0.0012)) * mass_g
    fixed = name in (
        "cocoa butter",
        "coconut fat",
        "smoked beet stock",
    )  # their error is drawn already
    true_g = mass_g if fixed else mass_g + off_g
    cook.takes(3.0)
    for share, rise_s in ((0.82, 4.0), (0.15, 2.0), (0.03, 0.8)):
        bench.put(cook.now, share * true_g, rise_s)
        cook.now += rise_s
        cook.takes(1.5)
    cook.takes(5.0)
    cook.say("mark")
    cook.script.weighed_g[name] = true_g
    return true_g
