"""The controller in Python: policies in floating point and the body that runs them."""
