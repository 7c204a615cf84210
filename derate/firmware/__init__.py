"""The controller in C: settings as a generated header, the compiler, and the body on this machine."""
