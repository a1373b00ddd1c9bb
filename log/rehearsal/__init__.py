"""A case for training: an invented patient to whom things happen on a timeline, played to a team that speaks as it
always does, and counted up at the end. Pure but for `load`: functions of scenario, record and the time.
"""
