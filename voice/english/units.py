"""How people say units, each form with the UCUM code it means and by what the number is multiplied."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

UNITS_HEARD: Mapping[tuple[str, float], str] = MappingProxyType(
    {
        (
            "mL",
            1,
        ): "ml|mls|mil|mils|cc|ccs|c c|c cs|c c's|millilitre|millilitres|milliliter|milliliters|m l|"
        "cubic centimetres|cubic centimeters|cubes",
        ("mL", 1000): "litre|litres|liter|liters|l",
        (
            "mm[Hg]",
            1,
        ): "mmhg|mm hg|mm|millimetres|millimeters|millimetre|millimeter|millimetres of mercury|millimeters of mercury|"
        "mm of mercury|of mercury|torr|m m h g",
        ("cm", 1): "cm|cms|centimetre|centimetres|centimeter|centimeters|c m",
        ("kg", 1): "kilo|kilos|kg|kgs|kilogram|kilograms|kilogramme|k g",
        ("g", 1): "gram|grams|gramme|grammes|g|gm|gms",
        ("mg", 1): "mg|mgs|m g|m gs|milligram|milligrams|milligramme|milligrammes|migs|mig",
        ("ug", 1): "ug|mcg|mcgs|mics|mic|microgram|micrograms|microgramme|micro grams",
        ("[IU]", 1): "international units|international unit|iu|i u|ius",
        ("{unit}", 1): "unit|units|bag|bags|pack|packs|pool|pools|bottle|bottles|pint|pints",
        ("%", 1): "percent|per cent|%",
        ("deg", 1): "degrees|degree",
        ("Cel", 1): "degrees celsius|degrees centigrade|celsius",
        ("min", 1): "minute|minutes|min|mins",
        ("s", 1): "second|seconds|sec|secs",
        ("h", 1): "hour|hours",
        ("g/L", 1): "grams per litre|grams per liter|g per l|grams a litre",
        ("g/dL", 1): "grams per decilitre|grams per deciliter|g per dl|grams per d l",
        ("mmol/L", 1): "millimoles|millimole|millimoles per litre|mmol|mmols|millimolar",
    }
)
"""(UCUM code, factor) -> its forms, with a bar between them."""
