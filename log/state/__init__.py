"""What the record says about the tube, the preparation and the fluids after each line."""
