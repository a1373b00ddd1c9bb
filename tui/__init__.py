"""What people see and type: the command line and the read-back view."""
