"""The command line, the room's screen and the second display."""
