"""The state of tube, preparation and fluids after each line."""
