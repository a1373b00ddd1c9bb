"""A second display: the bedside page of a case, for a browser, while another program writes the case."""

from __future__ import annotations
