"""One module per command. They are imported only when their command runs."""
