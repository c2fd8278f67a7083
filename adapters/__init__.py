"""The edge where state comes in: links bring datagrams, decoders read them, a map makes signals of their fields."""
