"""The room's screen: the operator glances at it from three metres, the scribe types at it from half a metre."""
