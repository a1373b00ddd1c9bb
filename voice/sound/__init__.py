"""Microphone or file to segments of speech, with the sample counter as clock."""
