"""Heat that surfaces shed into air or water: convection and radiation from geometry."""
