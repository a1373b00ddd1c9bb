"""`tamponade procedures`: definitions shown, checked, compared."""
