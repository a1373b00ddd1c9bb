"""Views of a case, worked out without a screen."""
