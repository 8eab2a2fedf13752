"""The one executor: steps a chart through a cell, simulated, recorded or real."""
