"""The sentences of the shipped packs that a crew can hear, as text and as speech, in one data file for each pack."""
