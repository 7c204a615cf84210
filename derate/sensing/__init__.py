"""What the firmware sees: thermistor, divider, ADC code, reading, and the faults of each."""
