"""Words that head the columns and parts of a cook's list, in five languages.

Data for ``pasted``: English, German, French, Spanish, Italian; from memory. All in lower case.
"""

HEADS: dict[str, tuple[str, ...]] = {
    "name": ("ingredient", "ingredients", "name", "item", "what", "zutat", "zutaten",
             "bezeichnung", "ingrédient", "ingrédients", "nom", "ingrediente", "ingredientes",
             "nombre", "ingredienti", "nome"),
    "phase": ("phase", "part of", "group", "teil", "gruppe", "partie", "fase", "parte"),
    "amount": ("amount", "mass", "weight", "quantity", "qty", "grams", "g", "kg", "oz", "lb", "ml",
               "%", "percent", "how much", "menge", "masse", "gewicht", "gramm", "quantité",
               "quantités", "poids", "grammes", "cantidad", "peso", "masa", "gramos", "quantità",
               "grammi"),
    "unit": ("unit", "units", "uom", "einheit", "einheiten", "unité", "unités", "unidad",
             "unidades", "unità"),
    "tolerance": ("tolerance", "tol", "+-", "+/-", "toleranz", "tolérance", "tolerancia",
                  "tolleranza"),
    "price": ("price", "cost", "price per kg", "preis", "preis pro kg", "preis je kg", "prix",
              "prix au kg", "precio", "precio por kg", "prezzo", "prezzo al kg"),
    "lot": ("lot", "batch no", "lot no", "lot number", "charge", "chargennummer", "los", "lote",
            "lotto", "numéro de lot"),
}  # fmt: skip
"""Heads by the column that they name."""
PHASE_WORDS = {
    "fett": "fat", "fettphase": "fat", "matière grasse": "fat", "phase grasse": "fat",
    "grasa": "fat", "fase grasa": "fat", "grasso": "fat", "fase grassa": "fat",
    "wasser": "water", "wasserphase": "water", "phase aqueuse": "water", "agua": "water",
    "fase acuosa": "water", "acqua": "water", "fase acquosa": "water", "eau": "water",
    "füllung": "filling", "farce": "filling", "relleno": "filling", "ripieno": "filling",
    "hülle": "coat", "enrobage": "coat", "cobertura": "coat", "copertura": "coat",
    "bad": "bath", "bain": "bath", "baño": "bath", "bagno": "bath",
}  # fmt: skip
"""Phases by what they are called elsewhere."""
TOTAL_WORDS = (
    "total",
    "sum",
    "grand total",
    "in all",
    "summe",
    "gesamt",
    "gesamtsumme",
    "somme",
    "total général",
    "suma",
    "totale",
    "somma",
)
"""Names of a last row that is no ingredient but what the others come to."""
TO_TASTE_WORDS = ("to taste", "nach geschmack", "selon le goût", "al gusto", "q.b.",
                  "quanto basta")  # fmt: skip
