"""Heat and light: the thermal network, the emitters on it, and their exact course in time."""
