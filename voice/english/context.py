"""Words of the trade as they are written."""

CONTEXT = (
    "Gastric balloon, oesophageal balloon, gastric pressure 20 mmHg, 50 mL in, tube at 50 cm at the lips, traction on, "
    "aspirate, lavage, clamp, x-ray confirms position."
)
"""Given to the general recogniser as if it had been said before: with it 12 of 36 entries were written right, 6 without
it (tests/bench)."""
