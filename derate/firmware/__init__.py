"""The controller in C: its settings as a generated header, its compiler, its body here."""
