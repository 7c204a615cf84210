"""The circuit board as geometry: cells, heat flow between them, and a small network of it."""
