"""A second display: the bedside page of a case, in a browser, for those who stand too far from the scribe's screen.

It only reads. `following` keeps up with the case while another program writes it, `page` lays out what the room has to
see, `access` decides who may see it, `app` answers the browser.
"""
