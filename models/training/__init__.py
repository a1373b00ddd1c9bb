"""How the speech model that comes with the log is made: from the definitions' phrases and recorded speech to a folder
that plain vosk loads. Nothing here is needed to use the log.
"""
