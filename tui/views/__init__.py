"""What a screen has to show, worked out without a screen."""
