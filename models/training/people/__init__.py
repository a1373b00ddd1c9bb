"""How `models/people-en` is made: the encoder of a general recogniser, fine-tuned to the sounds of the room."""
